//! The columns of the record that history files speak of. What they say
//! nothing about (customers, authorization, proofs) stays as it is.

use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, LinkState, Outcome, PartRole, Payer,
    Serviceable, WorkedAs,
};
use chrono::NaiveDate;
use diesel::prelude::*;

use crate::db::schema::{
    comeback, job, job_check, job_operation, labor_entry, part_return, part_use, repair_order,
    vehicle,
};
use crate::db::types::Word;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    CheckId, ComebackId, JobId, LaborId, OperationId, OrderId, PartUseId, PersonId, VehicleId,
};

/// A row that is read, written anew, or written over.
macro_rules! rows {
    ($($(#[$meta:meta])* $name:ident in $table:ident {
        shop_id: i32, $($field:ident: $type:ty),+ $(,)?
    })+) => {$(
        $(#[$meta])*
        #[derive(
            Debug, Clone, PartialEq, serde::Serialize, Queryable, Selectable, Insertable,
            AsChangeset,
        )]
        #[diesel(table_name = $table)]
        #[diesel(primary_key(shop_id, id))]
        #[diesel(treat_none_as_default_value = false)]
        #[diesel(treat_none_as_null = true)]
        pub struct $name {
            #[serde(skip)]
            pub shop_id: i32,
            $(pub $field: $type),+
        }
    )+};
}

rows! {
    VehicleRow in vehicle {
        shop_id: i32,
        id: VehicleId,
        vin: Option<String>,
        make: Option<String>,
        model: Option<String>,
        model_year: Option<i32>,
        engine: Option<String>,
        version: i32,
    }

    OrderRow in repair_order {
        shop_id: i32,
        id: OrderId,
        order_no: String,
        vehicle_id: VehicleId,
        status: String,
        odometer_in: Option<i64>,
        odometer_out: Option<i64>,
        odometer_unit: String,
        opened_at: UtcStamp,
        opened_on: NaiveDate,
        opened_minute: i32,
        closed_at: Option<UtcStamp>,
        closed_on: Option<NaiveDate>,
        version: i32,
    }

    JobRow in job {
        shop_id: i32,
        id: JobId,
        order_id: OrderId,
        job_no: i32,
        kind: Word<JobKind>,
        symptom: Option<String>,
        complaint: Option<String>,
        outcome: Option<Word<Outcome>>,
        cause: Option<String>,
        cause_state: Option<Word<CauseState>>,
        cause_position: Option<String>,
        correction: Option<String>,
        lead_id: Option<PersonId>,
        finished_at: Option<UtcStamp>,
        version: i32,
    }

    OperationRow in job_operation {
        shop_id: i32,
        id: OperationId,
        job_id: JobId,
        line: i32,
        code: String,
        flat_rate_hundredths: Option<i64>,
        billed_hundredths: Option<i64>,
        labor_amount_minor: Option<i64>,
        payer: Option<Word<Payer>>,
        version: i32,
    }

    CheckRow in job_check {
        shop_id: i32,
        id: CheckId,
        job_id: JobId,
        seq: i32,
        code: String,
        position: Option<String>,
        finding: Option<Word<Finding>>,
        minutes: Option<i32>,
        reading: Option<f64>,
        unit: Option<String>,
        typed_at_close: bool,
        version: i32,
    }

    PartRow in part_use {
        shop_id: i32,
        id: PartUseId,
        job_id: JobId,
        line: i32,
        part_no: Option<String>,
        name: String,
        position: Option<String>,
        quantity_hundredths: i64,
        disposition: Word<Disposition>,
        role: Option<Word<PartRole>>,
        serviceable: Option<Word<Serviceable>>,
        supplier: Option<String>,
        lot: Option<String>,
        unit_cost_minor: Option<i64>,
        unit_price_minor: Option<i64>,
        bench_reading: Option<f64>,
        bench_unit: Option<String>,
        version: i32,
    }

    LaborRow in labor_entry {
        shop_id: i32,
        id: LaborId,
        job_id: JobId,
        person_id: PersonId,
        activity: Option<Word<Activity>>,
        worked_as: Word<WorkedAs>,
        started_at: UtcStamp,
        started_on: NaiveDate,
        ended_at: Option<UtcStamp>,
        version: i32,
    }

    /// A link between two jobs.
    LinkRow in comeback {
        shop_id: i32,
        id: ComebackId,
        earlier_job_id: JobId,
        later_job_id: JobId,
        state: Word<LinkState>,
        same_complaint: bool,
        same_system: bool,
        same_cause: bool,
        same_part: bool,
        our_work: bool,
        proposed_by: String,
        reason: Option<String>,
        decided_by: Option<PersonId>,
        decided_at: Option<UtcStamp>,
        version: i32,
    }
}

/// A part that failed the vehicle again.
#[derive(
    Debug, Clone, PartialEq, Eq, Hash, serde::Serialize, Queryable, Selectable, Insertable,
)]
#[diesel(table_name = part_return)]
pub struct PartReturnRow {
    #[serde(skip)]
    pub shop_id: i32,
    pub part_use_id: PartUseId,
    pub later_job_id: JobId,
    pub state: Word<LinkState>,
}

/// A row whose version moves with every write.
pub trait Versioned {
    fn version(&mut self) -> &mut i32;
}

macro_rules! versioned {
    ($($name:ty),+ $(,)?) => {$(
        impl Versioned for $name {
            fn version(&mut self) -> &mut i32 {
                &mut self.version
            }
        }
    )+};
}
versioned!(VehicleRow, OrderRow, JobRow, OperationRow, CheckRow, PartRow, LaborRow, LinkRow);
