//! The rows of a made-up visit.

use super::*;

pub(super) fn vehicle_of(write: &mut ShopWrite<'_>, wheels: u8) -> Answer<VehicleId> {
    let plate = format!("P{wheels}");
    let found: Option<VehicleId> = vehicle::table
        .filter(vehicle::shop_id.eq(write.shop.id).and(vehicle::plate.eq(&plate)))
        .select(vehicle::id)
        .first(write.conn)
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    let id = VehicleId::make();
    diesel::insert_into(vehicle::table)
        .values((
            (vehicle::shop_id.eq(write.shop.id), vehicle::id.eq(&id)),
            (vehicle::plate.eq(&plate), vehicle::make.eq("Make"), vehicle::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(id)
}

/// What the odometer of a visit reads, by its number.
pub(super) fn read_at(number: usize) -> i64 {
    1_000 + 100 * i64::try_from(number).unwrap()
}

pub(super) fn insert_order(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    vehicle: &VehicleId,
    number: usize,
    day: i64,
) -> Answer<()> {
    let opened = noon(day);
    diesel::insert_into(repair_order::table)
        .values((
            (repair_order::shop_id.eq(write.shop.id), repair_order::id.eq(&visit.order)),
            (repair_order::order_no.eq(number.to_string()), repair_order::vehicle_id.eq(vehicle)),
            (repair_order::status.eq("open"), repair_order::odometer_unit.eq("km")),
            (repair_order::opened_at.eq(opened), repair_order::opened_minute.eq(720)),
            repair_order::opened_on.eq(opened.naive().date()),
            repair_order::odometer_in.eq(Some(read_at(number))),
            (repair_order::change_no.eq(write.change_no), repair_order::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(())
}

pub(super) fn insert_job(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    lead: &PersonId,
    symptom: u8,
) -> Answer<()> {
    diesel::insert_into(job::table)
        .values((
            (job::shop_id.eq(write.shop.id), job::id.eq(&visit.job)),
            (job::order_id.eq(&visit.order), job::job_no.eq(1)),
            (job::kind.eq(Word(JobKind::Complaint)), job::lead_id.eq(lead)),
            job::symptom.eq(format!("test.{symptom}")),
            (job::change_no.eq(write.change_no), job::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(())
}

/// A check, a part, a finished labor entry and one that runs on.
pub(super) fn insert_work(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    lead: &PersonId,
    (day, minute): (i64, i64),
) -> Answer<()> {
    let id = write.shop.id;
    diesel::insert_into(job_check::table)
        .values((
            (job_check::shop_id.eq(id), job_check::id.eq(CheckId::make())),
            (job_check::job_id.eq(&visit.job), job_check::seq.eq(1), job_check::code.eq("look")),
            (job_check::finding.eq(Word(Finding::Abnormal)), job_check::minutes.eq(5)),
            (job_check::typed_at_close.eq(false), job_check::version.eq(1)),
        ))
        .execute(write.conn)?;
    diesel::insert_into(part_use::table)
        .values((
            (part_use::shop_id.eq(id), part_use::id.eq(&visit.part)),
            (part_use::job_id.eq(&visit.job), part_use::line.eq(1), part_use::name.eq("valve")),
            (part_use::quantity_hundredths.eq(100_i64), part_use::version.eq(1)),
            part_use::disposition.eq(Word(Disposition::CleanedReused)),
            part_use::role.eq(Word(PartRole::Suspect)),
        ))
        .execute(write.conn)?;
    let started = UtcStamp::from_naive(*noon(day).naive() + Duration::minutes(minute));
    let ended = UtcStamp::from_naive(*started.naive() + Duration::minutes(40));
    diesel::insert_into(labor_entry::table)
        .values((
            (labor_entry::shop_id.eq(id), labor_entry::id.eq(LaborId::make())),
            (labor_entry::job_id.eq(&visit.job), labor_entry::person_id.eq(lead)),
            (labor_entry::worked_as.eq(Word(WorkedAs::Lead)), labor_entry::version.eq(1)),
            (labor_entry::started_at.eq(started), labor_entry::ended_at.eq(ended)),
            labor_entry::started_on.eq(started.naive().date()),
        ))
        .execute(write.conn)?;
    Ok(())
}
