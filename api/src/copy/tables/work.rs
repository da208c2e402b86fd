//! Vehicles, orders and all that was done on them, column by column as in `db/schema.rs`.

use diesel::prelude::*;

use super::*;
use crate::db::schema::{
    attendance, comeback, job, job_check, job_operation, job_person, job_wait, labor_entry,
    odometer_reset, order_authorization, outside_return, part_return, part_use, pay_back,
    planned_visit, proof, record_change, repair_order, sublet, vehicle,
};

copied! {
    Vehicle in vehicle by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        vin: Nullable<Text>,
        plate: Nullable<Text>,
        make: Nullable<Text>,
        model: Nullable<Text>,
        model_year: Nullable<Integer>,
        engine: Nullable<Text>,
        version: Integer,
        plate_key: Nullable<Text>,
        sold_on: Nullable<Date>,
        sold_note: Nullable<Text>,
    }

    OdometerReset in odometer_reset by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        vehicle_id: Text,
        reset_on: Date,
        reading_before: Nullable<BigInt>,
        reading_after: BigInt,
        odometer_unit: Text,
        note: Nullable<Text>,
        version: Integer,
    }

    RepairOrder in repair_order by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        order_no: Text,
        vehicle_id: Text,
        status: Text,
        customer_name: Nullable<Text>,
        customer_contact: Nullable<Text>,
        odometer_in: Nullable<BigInt>,
        odometer_out: Nullable<BigInt>,
        odometer_unit: Text,
        opened_at: Timestamp,
        opened_on: Date,
        opened_minute: Integer,
        promised_at: Nullable<Timestamp>,
        authorized_minor: Nullable<BigInt>,
        authorized_by: Nullable<Text>,
        authorized_how: Nullable<Text>,
        authorized_at: Nullable<Timestamp>,
        closed_at: Nullable<Timestamp>,
        closed_on: Nullable<Date>,
        change_no: BigInt,
        version: Integer,
        void_reason: Nullable<Text>,
        voided_at: Nullable<Timestamp>,
        corrected_at: Nullable<Timestamp>,
    }

    OrderAuthorization in order_authorization by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        order_id: Text,
        amount_minor: BigInt,
        authorized_by: Text,
        authorized_how: Text,
        authorized_at: Timestamp,
        note: Nullable<Text>,
        person_id: Text,
    }

    Job in job by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        order_id: Text,
        job_no: Integer,
        kind: Text,
        symptom: Nullable<Text>,
        complaint: Nullable<Text>,
        happens_when: Nullable<Text>,
        outcome: Nullable<Text>,
        cause: Nullable<Text>,
        cause_state: Nullable<Text>,
        cause_how: Nullable<Text>,
        cause_position: Nullable<Text>,
        correction: Nullable<Text>,
        lead_id: Nullable<Text>,
        bay: Nullable<Text>,
        waiting_for: Nullable<Text>,
        finished_at: Nullable<Timestamp>,
        change_no: BigInt,
        version: Integer,
        corrected_at: Nullable<Timestamp>,
    }

    JobPerson in job_person by (shop_id, job_id, person_id) {
        shop_id: Integer,
        job_id: Text,
        person_id: Text,
        worked_as: Text,
        supervisor_id: Nullable<Text>,
    }

    JobWait in job_wait by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        waiting_for: Text,
        note: Nullable<Text>,
        expected_on: Nullable<Date>,
        from_at: Timestamp,
        to_at: Nullable<Timestamp>,
    }

    JobOperation in job_operation by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        line: Integer,
        code: Text,
        flat_rate_hundredths: Nullable<BigInt>,
        billed_hundredths: Nullable<BigInt>,
        labor_amount_minor: Nullable<BigInt>,
        payer: Nullable<Text>,
        version: Integer,
    }

    JobCheck in job_check by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        seq: Integer,
        code: Text,
        position: Nullable<Text>,
        finding: Nullable<Text>,
        not_done_reason: Nullable<Text>,
        minutes: Nullable<Integer>,
        reading: Nullable<Double>,
        unit: Nullable<Text>,
        low_limit: Nullable<Double>,
        high_limit: Nullable<Double>,
        limit_source: Nullable<Text>,
        typed_at_close: Bool,
        version: Integer,
    }

    PartUse in part_use by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        line: Integer,
        part_no: Nullable<Text>,
        name: Text,
        position: Nullable<Text>,
        quantity_hundredths: BigInt,
        disposition: Text,
        role: Nullable<Text>,
        serviceable: Nullable<Text>,
        supplier: Nullable<Text>,
        lot: Nullable<Text>,
        unit_cost_minor: Nullable<BigInt>,
        unit_price_minor: Nullable<BigInt>,
        bench_reading: Nullable<Double>,
        bench_unit: Nullable<Text>,
        version: Integer,
        again_reason: Nullable<Text>,
    }

    LaborEntry in labor_entry by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        person_id: Text,
        activity: Nullable<Text>,
        worked_as: Text,
        started_at: Timestamp,
        started_on: Date,
        ended_at: Nullable<Timestamp>,
        version: Integer,
        supervisor_id: Nullable<Text>,
    }

    Proof in proof by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        how: Text,
        passed: Bool,
        note: Nullable<Text>,
        reading: Nullable<Double>,
        unit: Nullable<Text>,
        person_id: Text,
        proved_at: Timestamp,
        version: Integer,
    }

    Sublet in sublet by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        line: Integer,
        business: Text,
        work: Text,
        sent_on: Nullable<Date>,
        due_on: Nullable<Date>,
        back_on: Nullable<Date>,
        cost_minor: Nullable<BigInt>,
        price_minor: Nullable<BigInt>,
        payer: Nullable<Text>,
        version: Integer,
    }

    Comeback in comeback by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        earlier_job_id: Text,
        later_job_id: Text,
        state: Text,
        same_complaint: Bool,
        same_system: Bool,
        same_cause: Bool,
        same_part: Bool,
        our_work: Bool,
        proposed_by: Text,
        customer_says: Nullable<Bool>,
        reason: Nullable<Text>,
        note: Nullable<Text>,
        decided_by: Nullable<Text>,
        decided_at: Nullable<Timestamp>,
        change_no: BigInt,
        version: Integer,
    }

    PartReturn in part_return by (shop_id, part_use_id, later_job_id) {
        shop_id: Integer,
        part_use_id: Text,
        later_job_id: Text,
        state: Text,
        change_no: BigInt,
    }

    PlannedVisit in planned_visit by (shop_id, later_job_id) {
        shop_id: Integer,
        later_job_id: Text,
        earlier_job_id: Text,
    }

    PayBack in pay_back by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        supplier: Text,
        amount_minor: BigInt,
        paid_on: Date,
        note: Nullable<Text>,
        version: Integer,
    }

    OutsideReturn in outside_return by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        job_id: Text,
        told: Text,
        told_on: Date,
        reason: Nullable<Text>,
        note: Nullable<Text>,
        person_id: Text,
        version: Integer,
    }

    Attendance in attendance by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        person_id: Text,
        worked_on: Date,
        attended_minutes: Integer,
        note: Nullable<Text>,
        version: Integer,
    }

    RecordChange in record_change by (shop_id, change_no, line) {
        shop_id: Integer,
        change_no: BigInt,
        line: Integer,
        changed_at: Timestamp,
        person_id: Text,
        record: Text,
        record_id: Text,
        action: Text,
        order_id: Nullable<Text>,
        job_id: Nullable<Text>,
        correction: Bool,
        before_json: Nullable<Text>,
        after_json: Nullable<Text>,
    }
}
