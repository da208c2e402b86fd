//! Plans, rules, readings, calls and enquiries, column by column as in
//! `db/schema.rs`.

use diesel::prelude::*;

use super::*;
use crate::db::schema::{
    check_plan, check_plan_version, corrective_action, enquiry, follow_up, reading_list,
    reading_list_version, reading_sheet, reading_taken, rule_answer, shop_rule, stock_vehicle,
    warning_silence,
};

copied! {
    CheckPlan in check_plan by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        symptom: Text,
        model: Nullable<Text>,
        engine: Nullable<Text>,
        made_at: Timestamp,
        withdrawn_at: Nullable<Timestamp>,
        withdrawn_reason: Nullable<Text>,
        version: Integer,
    }

    CheckPlanVersion in check_plan_version by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        plan_id: Text,
        number: Integer,
        state: Text,
        origin: Text,
        steps_json: Text,
        evidence_json: Nullable<Text>,
        reason: Nullable<Text>,
        person_id: Nullable<Text>,
        made_at: Timestamp,
        decided_by: Nullable<Text>,
        decided_at: Nullable<Timestamp>,
        from_at: Nullable<Timestamp>,
        to_at: Nullable<Timestamp>,
    }

    ShopRule in shop_rule by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        kind: Text,
        title: Text,
        words: Text,
        symptom: Nullable<Text>,
        part: Nullable<Text>,
        check_code: Nullable<Text>,
        unit: Nullable<Text>,
        low_limit: Nullable<Double>,
        high_limit: Nullable<Double>,
        limit_source: Nullable<Text>,
        about: Nullable<Text>,
        evidence: Text,
        evidence_json: Nullable<Text>,
        owner_id: Text,
        starts_on: Date,
        review_on: Date,
        taken_by: Text,
        taken_at: Timestamp,
        reviewed_on: Nullable<Date>,
        reviewed_by: Nullable<Text>,
        review_word: Nullable<Text>,
        review_note: Nullable<Text>,
        withdrawn_on: Nullable<Date>,
        withdrawn_by: Nullable<Text>,
        withdrawn_reason: Nullable<Text>,
        version: Integer,
    }

    RuleAnswer in rule_answer by (shop_id, rule_id, job_id) {
        shop_id: Integer,
        rule_id: Text,
        job_id: Text,
        kept: Nullable<Bool>,
        reason: Nullable<Text>,
        person_id: Text,
        answered_at: Timestamp,
        version: Integer,
    }

    ReadingList in reading_list by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        name: Text,
        purpose: Text,
        make: Nullable<Text>,
        model: Nullable<Text>,
        engine: Nullable<Text>,
        symptom: Nullable<Text>,
        withdrawn_at: Nullable<Timestamp>,
        version: Integer,
    }

    ReadingListVersion in reading_list_version by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        list_id: Text,
        number: Integer,
        lines_json: Text,
        reason: Nullable<Text>,
        person_id: Nullable<Text>,
        made_at: Timestamp,
    }

    ReadingSheet in reading_sheet by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        list_version_id: Text,
        vehicle_id: Text,
        job_id: Nullable<Text>,
        begun_by: Text,
        begun_at: Timestamp,
        begun_on: Date,
        passed_at: Nullable<Timestamp>,
        passed_by: Nullable<Text>,
        note: Nullable<Text>,
        version: Integer,
    }

    ReadingTaken in reading_taken by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        sheet_id: Text,
        line_key: Text,
        place: Nullable<Text>,
        attempt: Integer,
        state: Text,
        value: Nullable<Double>,
        unit: Nullable<Text>,
        temperature: Nullable<Double>,
        temperature_unit: Nullable<Text>,
        words: Nullable<Text>,
        reason: Nullable<Text>,
        person_id: Text,
        taken_at: Timestamp,
        taken_on: Date,
    }

    StockVehicle in stock_vehicle by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        vehicle_id: Text,
        arrived_on: Date,
        left_on: Nullable<Date>,
        note: Nullable<Text>,
        version: Integer,
    }

    FollowUp in follow_up by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        called_on: Date,
        answer: Text,
        note: Nullable<Text>,
        person_id: Text,
        written_at: Timestamp,
        version: Integer,
    }

    Enquiry in enquiry by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        comeback_id: Text,
        failed_item: Nullable<Text>,
        conditions: Nullable<Text>,
        verified: Nullable<Bool>,
        verified_how: Nullable<Text>,
        checked: Nullable<Text>,
        not_checked: Nullable<Text>,
        analysis: Nullable<Text>,
        reason: Nullable<Text>,
        contributing: Nullable<Text>,
        attribution: Nullable<Text>,
        technician_id: Nullable<Text>,
        technician_says: Nullable<Text>,
        said_by: Nullable<Text>,
        held_on: Date,
        held_by: Text,
        closed_on: Nullable<Date>,
        closed_by: Nullable<Text>,
        close_note: Nullable<Text>,
        version: Integer,
    }

    CorrectiveAction in corrective_action by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        enquiry_id: Nullable<Text>,
        kind: Text,
        words: Text,
        owner_id: Text,
        due_on: Nullable<Date>,
        state: Text,
        done_on: Nullable<Date>,
        done_note: Nullable<Text>,
        rule_id: Nullable<Text>,
        plan_id: Nullable<Text>,
        verified_on: Nullable<Date>,
        verified_by: Nullable<Text>,
        verified_how: Nullable<Text>,
        held: Nullable<Bool>,
        made_by: Text,
        made_at: Timestamp,
        version: Integer,
    }

    WarningSilence in warning_silence by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        kind: Text,
        group_key: Text,
        reason: Text,
        until_on: Nullable<Date>,
        person_id: Text,
        made_at: Timestamp,
        ended_at: Nullable<Timestamp>,
        ended_by: Nullable<Text>,
        version: Integer,
    }
}
