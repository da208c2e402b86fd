CREATE TABLE shop_group (
    id TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    created_at TEXT NOT NULL
) STRICT;

CREATE TABLE shop (
    id INTEGER NOT NULL PRIMARY KEY,
    public_id TEXT NOT NULL UNIQUE,
    group_id TEXT NOT NULL REFERENCES shop_group (id),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 40),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    time_zone TEXT NOT NULL,
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    labor_cost_minor INTEGER NOT NULL CHECK (labor_cost_minor >= 0),
    posted_rate_minor INTEGER NOT NULL CHECK (posted_rate_minor >= 0),
    window_days INTEGER NOT NULL CHECK (window_days BETWEEN 1 AND 400),
    week_start INTEGER NOT NULL CHECK (week_start BETWEEN 1 AND 7),
    ceiling_permille INTEGER NOT NULL CHECK (ceiling_permille BETWEEN 0 AND 1000),
    return_diagnosis_minor INTEGER NOT NULL CHECK (return_diagnosis_minor >= 0),
    return_proof_minor INTEGER NOT NULL CHECK (return_proof_minor >= 0),
    return_transport_minor INTEGER NOT NULL CHECK (return_transport_minor >= 0),
    return_bay_minor INTEGER NOT NULL CHECK (return_bay_minor >= 0),
    return_goodwill_minor INTEGER NOT NULL CHECK (return_goodwill_minor >= 0),
    assumed_cleaned_suspect_permille INTEGER NOT NULL CHECK (assumed_cleaned_suspect_permille BETWEEN 1 AND 999),
    assumed_bystander_tested_permille INTEGER NOT NULL CHECK (assumed_bystander_tested_permille BETWEEN 1 AND 999),
    assumed_bystander_untested_permille INTEGER NOT NULL CHECK (assumed_bystander_untested_permille BETWEEN 1 AND 999),
    assumed_replaced_permille INTEGER NOT NULL CHECK (assumed_replaced_permille BETWEEN 1 AND 999),
    links_from TEXT,
    version INTEGER NOT NULL CHECK (version >= 1),
    UNIQUE (group_id, code)
) STRICT;

-- One row a shop, locked by every write to it: change numbers and order
-- numbers are taken here, in the writing transaction, so that within a shop
-- they commit in order and without gaps.
CREATE TABLE shop_counter (
    shop_id INTEGER NOT NULL PRIMARY KEY REFERENCES shop (id),
    change_no INTEGER NOT NULL CHECK (change_no >= 0),
    order_number INTEGER NOT NULL CHECK (order_number >= 0)
) STRICT;

CREATE TABLE person (
    id TEXT NOT NULL PRIMARY KEY,
    group_id TEXT NOT NULL REFERENCES shop_group (id),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    sign_in_name TEXT UNIQUE CHECK (length(sign_in_name) BETWEEN 1 AND 200),
    password_hash TEXT,
    active INTEGER NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    UNIQUE (group_id, name)
) STRICT;

CREATE TABLE role_grant (
    id TEXT NOT NULL PRIMARY KEY,
    person_id TEXT NOT NULL REFERENCES person (id),
    shop_id INTEGER REFERENCES shop (id),
    role TEXT NOT NULL CHECK (role IN ('technician', 'adviser', 'service_manager', 'owner', 'administrator')),
    CHECK ((role IN ('owner', 'administrator')) = (shop_id IS NULL)),
    UNIQUE (person_id, shop_id, role)
) STRICT;
CREATE UNIQUE INDEX role_grant_of_group ON role_grant (person_id, role) WHERE shop_id IS NULL;

CREATE TABLE session (
    token_hash TEXT NOT NULL PRIMARY KEY,
    person_id TEXT NOT NULL REFERENCES person (id),
    kind TEXT NOT NULL CHECK (kind IN ('page', 'bearer')),
    form_token TEXT NOT NULL,
    created_at TEXT NOT NULL,
    seen_at TEXT NOT NULL,
    ends_at TEXT NOT NULL
) STRICT;
CREATE INDEX session_of_person ON session (person_id);

CREATE TABLE code_entry (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    list TEXT NOT NULL CHECK (list IN ('system', 'symptom', 'when', 'cause', 'check', 'comeback_reason', 'operation')),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 80),
    label TEXT NOT NULL CHECK (length(label) BETWEEN 1 AND 200),
    system TEXT,
    kind TEXT,
    curable TEXT CHECK (curable IN ('yes', 'no', 'depends')),
    typical_minutes INTEGER CHECK (typical_minutes BETWEEN 0 AND 10000),
    origin TEXT NOT NULL CHECK (origin IN ('starting', 'shop', 'import')),
    PRIMARY KEY (shop_id, list, code)
) STRICT;

CREATE TABLE part_policy (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    part TEXT NOT NULL CHECK (length(part) BETWEEN 1 AND 200),
    access_minutes INTEGER CHECK (access_minutes BETWEEN 0 AND 100000),
    clean_minutes INTEGER CHECK (clean_minutes BETWEEN 0 AND 100000),
    fit_minutes INTEGER CHECK (fit_minutes BETWEEN 0 AND 100000),
    cost_minor INTEGER CHECK (cost_minor >= 0),
    PRIMARY KEY (shop_id, part)
) STRICT;

CREATE TABLE vehicle (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    vin TEXT CHECK (length(vin) BETWEEN 1 AND 40),
    plate TEXT CHECK (length(plate) BETWEEN 1 AND 20),
    make TEXT CHECK (length(make) BETWEEN 1 AND 100),
    model TEXT CHECK (length(model) BETWEEN 1 AND 100),
    model_year INTEGER CHECK (model_year BETWEEN 1880 AND 2200),
    engine TEXT CHECK (length(engine) BETWEEN 1 AND 100),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, vin)
) STRICT;
CREATE INDEX vehicle_by_plate ON vehicle (shop_id, plate);

CREATE TABLE repair_order (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    order_no TEXT NOT NULL CHECK (length(order_no) BETWEEN 1 AND 60),
    vehicle_id TEXT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('open', 'closed', 'void')),
    customer_name TEXT CHECK (length(customer_name) <= 200),
    customer_contact TEXT CHECK (length(customer_contact) <= 200),
    odometer_in INTEGER CHECK (odometer_in >= 0),
    odometer_out INTEGER CHECK (odometer_out >= 0),
    odometer_unit TEXT NOT NULL CHECK (odometer_unit IN ('km', '[mi_i]')),
    opened_at TEXT NOT NULL,
    opened_on TEXT NOT NULL,
    opened_minute INTEGER NOT NULL CHECK (opened_minute BETWEEN 0 AND 1439),
    promised_at TEXT,
    authorized_minor INTEGER CHECK (authorized_minor >= 0),
    authorized_by TEXT CHECK (length(authorized_by) <= 200),
    authorized_how TEXT CHECK (length(authorized_how) <= 200),
    authorized_at TEXT,
    closed_at TEXT,
    closed_on TEXT,
    change_no INTEGER NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, order_no),
    FOREIGN KEY (shop_id, vehicle_id) REFERENCES vehicle (shop_id, id),
    CHECK ((closed_at IS NULL) = (closed_on IS NULL)),
    CHECK ((status = 'closed') = (closed_at IS NOT NULL)),
    CHECK (closed_at IS NULL OR closed_at >= opened_at),
    CHECK (odometer_out IS NULL OR odometer_in IS NULL OR odometer_out >= odometer_in)
) STRICT;
CREATE INDEX repair_order_of_vehicle ON repair_order (shop_id, vehicle_id);
CREATE INDEX repair_order_by_opening ON repair_order (shop_id, opened_at, id);
CREATE INDEX repair_order_open ON repair_order (shop_id, promised_at) WHERE status = 'open';

CREATE TABLE job (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    order_id TEXT NOT NULL,
    job_no INTEGER NOT NULL CHECK (job_no >= 1),
    kind TEXT NOT NULL CHECK (kind IN ('complaint', 'maintenance', 'preparation', 'recall')),
    symptom TEXT,
    complaint TEXT CHECK (length(complaint) <= 4000),
    happens_when TEXT CHECK (length(happens_when) <= 1000),
    outcome TEXT CHECK (outcome IN ('repaired', 'temporary_repair', 'not_reproduced', 'no_fault_found', 'declined', 'planned_second_visit', 'sublet')),
    cause TEXT,
    cause_state TEXT CHECK (cause_state IN ('suspected', 'confirmed')),
    cause_how TEXT CHECK (length(cause_how) <= 1000),
    cause_position TEXT CHECK (length(cause_position) <= 100),
    correction TEXT CHECK (length(correction) <= 4000),
    lead_id TEXT REFERENCES person (id),
    bay TEXT CHECK (length(bay) <= 40),
    waiting_for TEXT CHECK (waiting_for IN ('part', 'customer', 'sublet', 'bay')),
    finished_at TEXT,
    change_no INTEGER NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, order_id, job_no),
    FOREIGN KEY (shop_id, order_id) REFERENCES repair_order (shop_id, id),
    CHECK ((cause IS NULL) = (cause_state IS NULL)),
    CHECK ((outcome IS NULL) = (finished_at IS NULL))
) STRICT;
CREATE INDEX job_by_change ON job (shop_id, change_no);

CREATE TABLE job_operation (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    line INTEGER NOT NULL CHECK (line >= 1),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 80),
    flat_rate_hundredths INTEGER CHECK (flat_rate_hundredths BETWEEN 0 AND 1000000),
    billed_hundredths INTEGER CHECK (billed_hundredths BETWEEN 0 AND 1000000),
    labor_amount_minor INTEGER CHECK (labor_amount_minor >= 0),
    payer TEXT CHECK (payer IN ('customer', 'maker', 'supplier', 'own_guarantee', 'goodwill', 'internal')),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, job_id, line),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;

CREATE TABLE job_check (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    seq INTEGER NOT NULL CHECK (seq >= 1),
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 80),
    position TEXT CHECK (length(position) <= 100),
    finding TEXT CHECK (finding IN ('normal', 'abnormal', 'inconclusive', 'not_done')),
    not_done_reason TEXT CHECK (length(not_done_reason) <= 1000),
    minutes INTEGER CHECK (minutes BETWEEN 0 AND 10000),
    reading REAL,
    unit TEXT CHECK (length(unit) <= 40),
    low_limit REAL,
    high_limit REAL,
    limit_source TEXT CHECK (length(limit_source) <= 400),
    typed_at_close INTEGER NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, job_id, seq),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;

CREATE TABLE part_use (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    line INTEGER NOT NULL CHECK (line >= 1),
    part_no TEXT CHECK (length(part_no) BETWEEN 1 AND 80),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    position TEXT CHECK (length(position) <= 100),
    quantity_hundredths INTEGER NOT NULL CHECK (quantity_hundredths BETWEEN 1 AND 100000000),
    disposition TEXT NOT NULL CHECK (disposition IN ('replaced_new', 'replaced_rebuilt', 'replaced_used', 'cleaned_reused', 'adjusted_reused', 'repaired_reused', 'removed_refitted', 'tested_left')),
    role TEXT CHECK (role IN ('suspect', 'bystander', 'damaged', 'wish')),
    serviceable TEXT CHECK (serviceable IN ('alone', 'assembly_only', 'not_serviceable')),
    supplier TEXT CHECK (length(supplier) <= 200),
    lot TEXT CHECK (length(lot) <= 80),
    unit_cost_minor INTEGER CHECK (unit_cost_minor >= 0),
    unit_price_minor INTEGER CHECK (unit_price_minor >= 0),
    bench_reading REAL,
    bench_unit TEXT CHECK (length(bench_unit) <= 40),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, job_id, line),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;

CREATE TABLE labor_entry (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    person_id TEXT NOT NULL REFERENCES person (id),
    activity TEXT CHECK (activity IN ('diagnosis', 'access', 'repair', 'reassembly', 'proof')),
    worked_as TEXT NOT NULL CHECK (worked_as IN ('lead', 'helper', 'trainee')),
    started_at TEXT NOT NULL,
    started_on TEXT NOT NULL,
    ended_at TEXT,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, person_id, started_at),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (ended_at IS NULL OR ended_at > started_at)
) STRICT;
CREATE INDEX labor_entry_of_job ON labor_entry (shop_id, job_id);
CREATE UNIQUE INDEX labor_entry_running ON labor_entry (person_id) WHERE ended_at IS NULL;

CREATE TABLE proof (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    how TEXT NOT NULL CHECK (how IN ('road_test', 'reading', 'second_person')),
    passed INTEGER NOT NULL,
    note TEXT CHECK (length(note) <= 2000),
    reading REAL,
    unit TEXT CHECK (length(unit) <= 40),
    person_id TEXT NOT NULL REFERENCES person (id),
    proved_at TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id)
) STRICT;
CREATE INDEX proof_of_job ON proof (shop_id, job_id);

CREATE TABLE comeback (
    shop_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    earlier_job_id TEXT NOT NULL,
    later_job_id TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('proposed', 'confirmed', 'rejected')),
    same_complaint INTEGER NOT NULL,
    same_system INTEGER NOT NULL,
    same_cause INTEGER NOT NULL,
    same_part INTEGER NOT NULL,
    our_work INTEGER NOT NULL,
    proposed_by TEXT NOT NULL CHECK (proposed_by IN ('write_up', 'close', 'person', 'import')),
    customer_says INTEGER,
    reason TEXT,
    note TEXT CHECK (length(note) <= 2000),
    decided_by TEXT REFERENCES person (id),
    decided_at TEXT,
    change_no INTEGER NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, earlier_job_id, later_job_id),
    FOREIGN KEY (shop_id, earlier_job_id) REFERENCES job (shop_id, id),
    FOREIGN KEY (shop_id, later_job_id) REFERENCES job (shop_id, id),
    CHECK (earlier_job_id <> later_job_id),
    CHECK (state = 'proposed' OR decided_at IS NOT NULL),
    CHECK (state <> 'rejected' OR reason IS NOT NULL)
) STRICT;
-- A later job links to one earlier job: the latest of its chain.
CREATE UNIQUE INDEX comeback_confirmed ON comeback (shop_id, later_job_id) WHERE state = 'confirmed';
CREATE INDEX comeback_undecided ON comeback (shop_id, id) WHERE state = 'proposed';
CREATE INDEX comeback_by_change ON comeback (shop_id, change_no);

CREATE TABLE part_return (
    shop_id INTEGER NOT NULL,
    part_use_id TEXT NOT NULL,
    later_job_id TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('proposed', 'confirmed', 'rejected')),
    change_no INTEGER NOT NULL,
    PRIMARY KEY (shop_id, part_use_id, later_job_id),
    FOREIGN KEY (shop_id, part_use_id) REFERENCES part_use (shop_id, id),
    FOREIGN KEY (shop_id, later_job_id) REFERENCES job (shop_id, id)
) STRICT;
CREATE INDEX part_return_of_later ON part_return (shop_id, later_job_id);

-- Written in the transaction of its effect; only 2xx answers are kept.
CREATE TABLE idempotency_key (
    person_id TEXT NOT NULL REFERENCES person (id),
    route TEXT NOT NULL,
    key TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 255),
    request_hash TEXT NOT NULL,
    status INTEGER NOT NULL,
    location TEXT,
    etag TEXT,
    body TEXT NOT NULL,
    created_at TEXT NOT NULL,
    PRIMARY KEY (person_id, route, key)
) STRICT;
