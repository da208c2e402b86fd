ALTER TABLE person ADD COLUMN
    pin_hash TEXT;
ALTER TABLE session ADD COLUMN
    agent TEXT CHECK (length(agent) <= 300);
ALTER TABLE session ADD COLUMN
    tablet_id TEXT;
ALTER TABLE code_entry ADD COLUMN
    source TEXT CHECK (length(source) <= 400);
ALTER TABLE code_entry ADD COLUMN
    retired_at TEXT;
ALTER TABLE code_entry ADD COLUMN
    merged_into TEXT CHECK (length(merged_into) BETWEEN 1 AND 80);
ALTER TABLE code_entry ADD COLUMN
    version INTEGER NOT NULL DEFAULT 1;
ALTER TABLE vehicle ADD COLUMN
    plate_key TEXT CHECK (length(plate_key) <= 20);
ALTER TABLE vehicle ADD COLUMN
    sold_on TEXT;
ALTER TABLE vehicle ADD COLUMN
    sold_note TEXT CHECK (length(sold_note) <= 1000);
ALTER TABLE repair_order ADD COLUMN
    void_reason TEXT CHECK (length(void_reason) BETWEEN 1 AND 1000);
ALTER TABLE repair_order ADD COLUMN
    voided_at TEXT;
ALTER TABLE repair_order ADD COLUMN
    corrected_at TEXT;
ALTER TABLE job ADD COLUMN
    corrected_at TEXT;
ALTER TABLE part_use ADD COLUMN
    again_reason TEXT CHECK (length(again_reason) BETWEEN 1 AND 1000);
ALTER TABLE labor_entry ADD COLUMN
    supervisor_id TEXT;
UPDATE vehicle SET plate_key = upper(replace(replace(replace(plate, ' ', ''), '-', ''), '.', ''));
CREATE INDEX vehicle_by_plate_key ON vehicle (shop_id, plate_key);

-- Who is on a job besides who leads it; a trainee works under a supervisor, and
-- so may who leads.
CREATE TABLE job_person (
    shop_id INTEGER NOT NULL,
    job_id TEXT NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    worked_as TEXT NOT NULL CHECK (worked_as IN ('lead', 'helper', 'trainee')),
    supervisor_id TEXT REFERENCES person (id),
    PRIMARY KEY (shop_id, job_id, person_id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (supervisor_id IS NULL OR supervisor_id <> person_id),
    CHECK (worked_as <> 'trainee' OR supervisor_id IS NOT NULL)
) STRICT;

-- What a job waited for, and how long. Waiting is no clock time.
CREATE TABLE job_wait (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    waiting_for TEXT NOT NULL CHECK (waiting_for IN ('part', 'customer', 'sublet', 'bay')),
    note TEXT CHECK (length(note) <= 1000),
    expected_on TEXT,
    from_at TEXT NOT NULL,
    to_at TEXT,
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (to_at IS NULL OR to_at >= from_at)
) STRICT;
CREATE INDEX job_wait_of_job ON job_wait (shop_id, job_id);
CREATE UNIQUE INDEX job_wait_running ON job_wait (shop_id, job_id) WHERE to_at IS NULL;

-- Every amount the customer agreed to: the latest is what stands on the order.
CREATE TABLE order_authorization (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    order_id TEXT NOT NULL,
    amount_minor INTEGER NOT NULL CHECK (amount_minor >= 0),
    authorized_by TEXT NOT NULL CHECK (length(authorized_by) BETWEEN 1 AND 200),
    authorized_how TEXT NOT NULL CHECK (length(authorized_how) BETWEEN 1 AND 200),
    authorized_at TEXT NOT NULL,
    note TEXT CHECK (length(note) <= 1000),
    person_id TEXT NOT NULL REFERENCES person (id),
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, order_id) REFERENCES repair_order (shop_id, id)
) STRICT;
CREATE INDEX order_authorization_of_order ON order_authorization (shop_id, order_id);

-- Work sent to another business; the shop stays answerable.
CREATE TABLE sublet (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    line INTEGER NOT NULL CHECK (line >= 1),
    business TEXT NOT NULL CHECK (length(business) BETWEEN 1 AND 200),
    work TEXT NOT NULL CHECK (length(work) BETWEEN 1 AND 1000),
    sent_on TEXT,
    due_on TEXT,
    back_on TEXT,
    cost_minor INTEGER CHECK (cost_minor >= 0),
    price_minor INTEGER CHECK (price_minor >= 0),
    payer TEXT CHECK (payer IN ('customer', 'maker', 'supplier', 'own_guarantee', 'goodwill', 'internal')),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, job_id, line),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;

-- A visit that was planned when the earlier one ended: not a comeback.
CREATE TABLE planned_visit (
    shop_id INTEGER NOT NULL,
    later_job_id TEXT NOT NULL,
    earlier_job_id TEXT NOT NULL,
    PRIMARY KEY (shop_id, later_job_id),
    FOREIGN KEY (shop_id, later_job_id) REFERENCES job (shop_id, id),
    FOREIGN KEY (shop_id, earlier_job_id) REFERENCES job (shop_id, id),
    CHECK (later_job_id <> earlier_job_id)
) STRICT;
CREATE INDEX planned_visit_of_earlier ON planned_visit (shop_id, earlier_job_id);

-- What a supplier paid back for a job.
CREATE TABLE pay_back (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    supplier TEXT NOT NULL CHECK (length(supplier) BETWEEN 1 AND 200),
    amount_minor INTEGER NOT NULL CHECK (amount_minor >= 1),
    paid_on TEXT NOT NULL,
    note TEXT CHECK (length(note) <= 1000),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;
CREATE INDEX pay_back_of_job ON pay_back (shop_id, job_id);

-- A repair that did not hold, as told later: fixed by somebody else, or not yet.
-- It counts as a return on the day it was told.
CREATE TABLE outside_return (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    told TEXT NOT NULL CHECK (told IN ('fixed_elsewhere', 'not_fixed')),
    told_on TEXT NOT NULL,
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 80),
    note TEXT CHECK (length(note) <= 2000),
    person_id TEXT NOT NULL REFERENCES person (id),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, job_id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;

-- The odometer was replaced: readings before and after do not go on from one
-- another.
CREATE TABLE odometer_reset (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    vehicle_id TEXT NOT NULL,
    reset_on TEXT NOT NULL,
    reading_before INTEGER CHECK (reading_before >= 0),
    reading_after INTEGER NOT NULL CHECK (reading_after >= 0),
    odometer_unit TEXT NOT NULL CHECK (odometer_unit IN ('km', '[mi_i]')),
    note TEXT CHECK (length(note) <= 1000),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, vehicle_id) REFERENCES vehicle (shop_id, id)
) STRICT;
CREATE INDEX odometer_reset_of_vehicle ON odometer_reset (shop_id, vehicle_id);

-- Hours a person was there for work, less unpaid breaks.
CREATE TABLE attendance (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    worked_on TEXT NOT NULL,
    attended_minutes INTEGER NOT NULL CHECK (attended_minutes BETWEEN 0 AND 1440),
    note TEXT CHECK (length(note) <= 1000),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, person_id, worked_on)
) STRICT;

-- A program's way in: named, limited, of which only the hash is kept.
CREATE TABLE access_token (
    id TEXT NOT NULL PRIMARY KEY,
    group_id TEXT NOT NULL REFERENCES shop_group (id),
    person_id TEXT NOT NULL REFERENCES person (id),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 100),
    scope TEXT NOT NULL CHECK (scope IN ('read', 'work', 'all')),
    token_hash TEXT NOT NULL UNIQUE,
    made_at TEXT NOT NULL,
    ends_at TEXT,
    used_at TEXT,
    revoked_at TEXT,
    revoked_by TEXT REFERENCES person (id)
) STRICT;
CREATE INDEX access_token_of_person ON access_token (person_id);

-- A tablet of the shop floor: the only place where a PIN opens a session.
CREATE TABLE tablet (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 100),
    token_hash TEXT NOT NULL UNIQUE,
    enrolled_by TEXT NOT NULL REFERENCES person (id),
    enrolled_at TEXT NOT NULL,
    used_at TEXT,
    revoked_at TEXT,
    PRIMARY KEY (shop_id, id)
) STRICT;

-- Who changed what, when, before and after: one line a record and write. Never
-- changed, never deleted.
CREATE TABLE record_change (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    change_no INTEGER NOT NULL,
    line INTEGER NOT NULL,
    changed_at TEXT NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    record TEXT NOT NULL CHECK (length(record) BETWEEN 1 AND 40),
    record_id TEXT NOT NULL CHECK (length(record_id) BETWEEN 1 AND 200),
    action TEXT NOT NULL CHECK (length(action) BETWEEN 1 AND 40),
    order_id TEXT,
    job_id TEXT,
    correction INTEGER NOT NULL,
    before_json TEXT,
    after_json TEXT,
    PRIMARY KEY (shop_id, change_no, line)
) STRICT;
CREATE INDEX record_change_of_record ON record_change (shop_id, record, record_id);
CREATE INDEX record_change_of_job ON record_change (shop_id, job_id);
CREATE INDEX record_change_of_order ON record_change (shop_id, order_id);
