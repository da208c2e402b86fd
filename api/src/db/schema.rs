//! The tables, kept by hand and held against both databases by a test.

diesel::table! {
    shop_group (id) {
        id -> Text,
        name -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    shop (id) {
        id -> Integer,
        public_id -> Text,
        group_id -> Text,
        code -> Text,
        name -> Text,
        time_zone -> Text,
        currency -> Text,
        labor_cost_minor -> BigInt,
        posted_rate_minor -> BigInt,
        window_days -> Integer,
        week_start -> Integer,
        ceiling_permille -> Integer,
        return_diagnosis_minor -> BigInt,
        return_proof_minor -> BigInt,
        return_transport_minor -> BigInt,
        return_bay_minor -> BigInt,
        return_goodwill_minor -> BigInt,
        assumed_cleaned_suspect_permille -> Integer,
        assumed_bystander_tested_permille -> Integer,
        assumed_bystander_untested_permille -> Integer,
        assumed_replaced_permille -> Integer,
        links_from -> Nullable<Date>,
        version -> Integer,
        date_style -> Nullable<Text>,
        follow_up_days -> Nullable<Integer>,
        follow_up_intermittent_days -> Nullable<Integer>,
    }
}

diesel::table! {
    shop_counter (shop_id) {
        shop_id -> Integer,
        change_no -> BigInt,
        order_number -> BigInt,
    }
}

diesel::table! {
    access_stamp (id) {
        id -> Integer,
        moved -> BigInt,
    }
}

diesel::table! {
    settings_stamp (shop_id) {
        shop_id -> Integer,
        moved -> BigInt,
    }
}

diesel::table! {
    person (id) {
        id -> Text,
        group_id -> Text,
        name -> Text,
        sign_in_name -> Nullable<Text>,
        password_hash -> Nullable<Text>,
        active -> Bool,
        version -> Integer,
        pin_hash -> Nullable<Text>,
    }
}

diesel::table! {
    role_grant (id) {
        id -> Text,
        person_id -> Text,
        shop_id -> Nullable<Integer>,
        role -> Text,
    }
}

diesel::table! {
    session (token_hash) {
        token_hash -> Text,
        person_id -> Text,
        kind -> Text,
        form_token -> Text,
        created_at -> Timestamp,
        seen_at -> Timestamp,
        ends_at -> Timestamp,
        agent -> Nullable<Text>,
        tablet_id -> Nullable<Text>,
    }
}

diesel::table! {
    code_entry (shop_id, list, code) {
        shop_id -> Integer,
        list -> Text,
        code -> Text,
        label -> Text,
        system -> Nullable<Text>,
        kind -> Nullable<Text>,
        curable -> Nullable<Text>,
        typical_minutes -> Nullable<Integer>,
        origin -> Text,
        source -> Nullable<Text>,
        retired_at -> Nullable<Timestamp>,
        merged_into -> Nullable<Text>,
        version -> Integer,
        access -> Nullable<Text>,
    }
}

diesel::table! {
    part_policy (shop_id, part) {
        shop_id -> Integer,
        part -> Text,
        access_minutes -> Nullable<Integer>,
        clean_minutes -> Nullable<Integer>,
        fit_minutes -> Nullable<Integer>,
        cost_minor -> Nullable<BigInt>,
        version -> Nullable<Integer>,
    }
}

diesel::table! {
    vehicle (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        vin -> Nullable<Text>,
        plate -> Nullable<Text>,
        make -> Nullable<Text>,
        model -> Nullable<Text>,
        model_year -> Nullable<Integer>,
        engine -> Nullable<Text>,
        version -> Integer,
        plate_key -> Nullable<Text>,
        sold_on -> Nullable<Date>,
        sold_note -> Nullable<Text>,
    }
}

diesel::table! {
    repair_order (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        order_no -> Text,
        vehicle_id -> Text,
        status -> Text,
        customer_name -> Nullable<Text>,
        customer_contact -> Nullable<Text>,
        odometer_in -> Nullable<BigInt>,
        odometer_out -> Nullable<BigInt>,
        odometer_unit -> Text,
        opened_at -> Timestamp,
        opened_on -> Date,
        opened_minute -> Integer,
        promised_at -> Nullable<Timestamp>,
        authorized_minor -> Nullable<BigInt>,
        authorized_by -> Nullable<Text>,
        authorized_how -> Nullable<Text>,
        authorized_at -> Nullable<Timestamp>,
        closed_at -> Nullable<Timestamp>,
        closed_on -> Nullable<Date>,
        change_no -> BigInt,
        version -> Integer,
        void_reason -> Nullable<Text>,
        voided_at -> Nullable<Timestamp>,
        corrected_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    job (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        order_id -> Text,
        job_no -> Integer,
        kind -> Text,
        symptom -> Nullable<Text>,
        complaint -> Nullable<Text>,
        happens_when -> Nullable<Text>,
        outcome -> Nullable<Text>,
        cause -> Nullable<Text>,
        cause_state -> Nullable<Text>,
        cause_how -> Nullable<Text>,
        cause_position -> Nullable<Text>,
        correction -> Nullable<Text>,
        lead_id -> Nullable<Text>,
        bay -> Nullable<Text>,
        waiting_for -> Nullable<Text>,
        finished_at -> Nullable<Timestamp>,
        change_no -> BigInt,
        version -> Integer,
        corrected_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    job_operation (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        line -> Integer,
        code -> Text,
        flat_rate_hundredths -> Nullable<BigInt>,
        billed_hundredths -> Nullable<BigInt>,
        labor_amount_minor -> Nullable<BigInt>,
        payer -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    job_check (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        seq -> Integer,
        code -> Text,
        position -> Nullable<Text>,
        finding -> Nullable<Text>,
        not_done_reason -> Nullable<Text>,
        minutes -> Nullable<Integer>,
        reading -> Nullable<Double>,
        unit -> Nullable<Text>,
        low_limit -> Nullable<Double>,
        high_limit -> Nullable<Double>,
        limit_source -> Nullable<Text>,
        typed_at_close -> Bool,
        version -> Integer,
    }
}

diesel::table! {
    part_use (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        line -> Integer,
        part_no -> Nullable<Text>,
        name -> Text,
        position -> Nullable<Text>,
        quantity_hundredths -> BigInt,
        disposition -> Text,
        role -> Nullable<Text>,
        serviceable -> Nullable<Text>,
        supplier -> Nullable<Text>,
        lot -> Nullable<Text>,
        unit_cost_minor -> Nullable<BigInt>,
        unit_price_minor -> Nullable<BigInt>,
        bench_reading -> Nullable<Double>,
        bench_unit -> Nullable<Text>,
        version -> Integer,
        again_reason -> Nullable<Text>,
    }
}

diesel::table! {
    labor_entry (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        person_id -> Text,
        activity -> Nullable<Text>,
        worked_as -> Text,
        started_at -> Timestamp,
        started_on -> Date,
        ended_at -> Nullable<Timestamp>,
        version -> Integer,
        supervisor_id -> Nullable<Text>,
    }
}

diesel::table! {
    proof (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        how -> Text,
        passed -> Bool,
        note -> Nullable<Text>,
        reading -> Nullable<Double>,
        unit -> Nullable<Text>,
        person_id -> Text,
        proved_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    comeback (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        earlier_job_id -> Text,
        later_job_id -> Text,
        state -> Text,
        same_complaint -> Bool,
        same_system -> Bool,
        same_cause -> Bool,
        same_part -> Bool,
        our_work -> Bool,
        proposed_by -> Text,
        customer_says -> Nullable<Bool>,
        reason -> Nullable<Text>,
        note -> Nullable<Text>,
        decided_by -> Nullable<Text>,
        decided_at -> Nullable<Timestamp>,
        change_no -> BigInt,
        version -> Integer,
    }
}

diesel::table! {
    part_return (shop_id, part_use_id, later_job_id) {
        shop_id -> Integer,
        part_use_id -> Text,
        later_job_id -> Text,
        state -> Text,
        change_no -> BigInt,
    }
}

diesel::table! {
    idempotency_key (person_id, route, key) {
        person_id -> Text,
        route -> Text,
        key -> Text,
        request_hash -> Text,
        status -> Integer,
        location -> Nullable<Text>,
        etag -> Nullable<Text>,
        body -> Text,
        created_at -> Timestamp,
    }
}

diesel::table! {
    job_person (shop_id, job_id, person_id) {
        shop_id -> Integer,
        job_id -> Text,
        person_id -> Text,
        worked_as -> Text,
        supervisor_id -> Nullable<Text>,
    }
}

diesel::table! {
    job_wait (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        waiting_for -> Text,
        note -> Nullable<Text>,
        expected_on -> Nullable<Date>,
        from_at -> Timestamp,
        to_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    order_authorization (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        order_id -> Text,
        amount_minor -> BigInt,
        authorized_by -> Text,
        authorized_how -> Text,
        authorized_at -> Timestamp,
        note -> Nullable<Text>,
        person_id -> Text,
    }
}

diesel::table! {
    sublet (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        line -> Integer,
        business -> Text,
        work -> Text,
        sent_on -> Nullable<Date>,
        due_on -> Nullable<Date>,
        back_on -> Nullable<Date>,
        cost_minor -> Nullable<BigInt>,
        price_minor -> Nullable<BigInt>,
        payer -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    planned_visit (shop_id, later_job_id) {
        shop_id -> Integer,
        later_job_id -> Text,
        earlier_job_id -> Text,
    }
}

diesel::table! {
    pay_back (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        supplier -> Text,
        amount_minor -> BigInt,
        paid_on -> Date,
        note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    outside_return (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        told -> Text,
        told_on -> Date,
        reason -> Nullable<Text>,
        note -> Nullable<Text>,
        person_id -> Text,
        version -> Integer,
    }
}

diesel::table! {
    odometer_reset (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        vehicle_id -> Text,
        reset_on -> Date,
        reading_before -> Nullable<BigInt>,
        reading_after -> BigInt,
        odometer_unit -> Text,
        note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    attendance (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        person_id -> Text,
        worked_on -> Date,
        attended_minutes -> Integer,
        note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    access_token (id) {
        id -> Text,
        group_id -> Text,
        person_id -> Text,
        name -> Text,
        scope -> Text,
        token_hash -> Text,
        made_at -> Timestamp,
        ends_at -> Nullable<Timestamp>,
        used_at -> Nullable<Timestamp>,
        revoked_at -> Nullable<Timestamp>,
        revoked_by -> Nullable<Text>,
    }
}

diesel::table! {
    tablet (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        name -> Text,
        token_hash -> Text,
        enrolled_by -> Text,
        enrolled_at -> Timestamp,
        used_at -> Nullable<Timestamp>,
        revoked_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    record_change (shop_id, change_no, line) {
        shop_id -> Integer,
        change_no -> BigInt,
        line -> Integer,
        changed_at -> Timestamp,
        person_id -> Text,
        record -> Text,
        record_id -> Text,
        action -> Text,
        order_id -> Nullable<Text>,
        job_id -> Nullable<Text>,
        correction -> Bool,
        before_json -> Nullable<Text>,
        after_json -> Nullable<Text>,
    }
}

diesel::table! {
    copy_made (id) {
        id -> Text,
        made_at -> Timestamp,
        row_count -> BigInt,
        with_secrets -> Bool,
        written_by -> Text,
    }
}

diesel::table! {
    check_plan (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        symptom -> Text,
        model -> Nullable<Text>,
        engine -> Nullable<Text>,
        made_at -> Timestamp,
        withdrawn_at -> Nullable<Timestamp>,
        withdrawn_reason -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    check_plan_version (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        plan_id -> Text,
        number -> Integer,
        state -> Text,
        origin -> Text,
        steps_json -> Text,
        evidence_json -> Nullable<Text>,
        reason -> Nullable<Text>,
        person_id -> Nullable<Text>,
        made_at -> Timestamp,
        decided_by -> Nullable<Text>,
        decided_at -> Nullable<Timestamp>,
        from_at -> Nullable<Timestamp>,
        to_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    shop_rule (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        kind -> Text,
        title -> Text,
        words -> Text,
        symptom -> Nullable<Text>,
        part -> Nullable<Text>,
        check_code -> Nullable<Text>,
        unit -> Nullable<Text>,
        low_limit -> Nullable<Double>,
        high_limit -> Nullable<Double>,
        limit_source -> Nullable<Text>,
        about -> Nullable<Text>,
        evidence -> Text,
        evidence_json -> Nullable<Text>,
        owner_id -> Text,
        starts_on -> Date,
        review_on -> Date,
        taken_by -> Text,
        taken_at -> Timestamp,
        reviewed_on -> Nullable<Date>,
        reviewed_by -> Nullable<Text>,
        review_word -> Nullable<Text>,
        review_note -> Nullable<Text>,
        withdrawn_on -> Nullable<Date>,
        withdrawn_by -> Nullable<Text>,
        withdrawn_reason -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    rule_answer (shop_id, rule_id, job_id) {
        shop_id -> Integer,
        rule_id -> Text,
        job_id -> Text,
        kept -> Nullable<Bool>,
        reason -> Nullable<Text>,
        person_id -> Text,
        answered_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    reading_list (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        name -> Text,
        purpose -> Text,
        make -> Nullable<Text>,
        model -> Nullable<Text>,
        engine -> Nullable<Text>,
        symptom -> Nullable<Text>,
        withdrawn_at -> Nullable<Timestamp>,
        version -> Integer,
    }
}

diesel::table! {
    reading_list_version (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        list_id -> Text,
        number -> Integer,
        lines_json -> Text,
        reason -> Nullable<Text>,
        person_id -> Nullable<Text>,
        made_at -> Timestamp,
    }
}

diesel::table! {
    reading_sheet (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        list_version_id -> Text,
        vehicle_id -> Text,
        job_id -> Nullable<Text>,
        begun_by -> Text,
        begun_at -> Timestamp,
        begun_on -> Date,
        passed_at -> Nullable<Timestamp>,
        passed_by -> Nullable<Text>,
        note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    reading_taken (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        sheet_id -> Text,
        line_key -> Text,
        place -> Nullable<Text>,
        attempt -> Integer,
        state -> Text,
        value -> Nullable<Double>,
        unit -> Nullable<Text>,
        temperature -> Nullable<Double>,
        temperature_unit -> Nullable<Text>,
        words -> Nullable<Text>,
        reason -> Nullable<Text>,
        person_id -> Text,
        taken_at -> Timestamp,
        taken_on -> Date,
    }
}

diesel::table! {
    stock_vehicle (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        vehicle_id -> Text,
        arrived_on -> Date,
        left_on -> Nullable<Date>,
        note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    follow_up (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        job_id -> Text,
        called_on -> Date,
        answer -> Text,
        note -> Nullable<Text>,
        person_id -> Text,
        written_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    enquiry (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        comeback_id -> Text,
        failed_item -> Nullable<Text>,
        conditions -> Nullable<Text>,
        verified -> Nullable<Bool>,
        verified_how -> Nullable<Text>,
        checked -> Nullable<Text>,
        not_checked -> Nullable<Text>,
        analysis -> Nullable<Text>,
        reason -> Nullable<Text>,
        contributing -> Nullable<Text>,
        attribution -> Nullable<Text>,
        technician_id -> Nullable<Text>,
        technician_says -> Nullable<Text>,
        said_by -> Nullable<Text>,
        held_on -> Date,
        held_by -> Text,
        closed_on -> Nullable<Date>,
        closed_by -> Nullable<Text>,
        close_note -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    corrective_action (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        enquiry_id -> Nullable<Text>,
        kind -> Text,
        words -> Text,
        owner_id -> Text,
        due_on -> Nullable<Date>,
        state -> Text,
        done_on -> Nullable<Date>,
        done_note -> Nullable<Text>,
        rule_id -> Nullable<Text>,
        plan_id -> Nullable<Text>,
        verified_on -> Nullable<Date>,
        verified_by -> Nullable<Text>,
        verified_how -> Nullable<Text>,
        held -> Nullable<Bool>,
        made_by -> Text,
        made_at -> Timestamp,
        version -> Integer,
    }
}

diesel::table! {
    warning_silence (shop_id, id) {
        shop_id -> Integer,
        id -> Text,
        kind -> Text,
        group_key -> Text,
        reason -> Text,
        until_on -> Nullable<Date>,
        person_id -> Text,
        made_at -> Timestamp,
        ended_at -> Nullable<Timestamp>,
        ended_by -> Nullable<Text>,
        version -> Integer,
    }
}

diesel::table! {
    sign_in_try (key_hash) {
        key_hash -> Text,
        tries -> Integer,
        last_at -> Timestamp,
    }
}

diesel::table! {
    known_device (token_hash, person_id) {
        token_hash -> Text,
        person_id -> Text,
        seen_at -> Timestamp,
    }
}

diesel::table! {
    password_cost (id) {
        id -> Integer,
        memory_kib -> Integer,
        passes -> Integer,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    shop_group,
    shop,
    shop_counter,
    access_stamp,
    settings_stamp,
    person,
    role_grant,
    session,
    code_entry,
    part_policy,
    vehicle,
    repair_order,
    job,
    job_operation,
    job_check,
    part_use,
    labor_entry,
    proof,
    comeback,
    part_return,
    idempotency_key,
    job_person,
    job_wait,
    order_authorization,
    sublet,
    planned_visit,
    pay_back,
    outside_return,
    odometer_reset,
    attendance,
    access_token,
    tablet,
    record_change,
    copy_made,
    check_plan,
    check_plan_version,
    shop_rule,
    rule_answer,
    reading_list,
    reading_list_version,
    reading_sheet,
    reading_taken,
    stock_vehicle,
    follow_up,
    enquiry,
    corrective_action,
    warning_silence,
    sign_in_try,
    known_device,
    password_cost,
);

diesel::joinable!(session -> person (person_id));
