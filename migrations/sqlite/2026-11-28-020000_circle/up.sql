ALTER TABLE shop ADD COLUMN
    follow_up_days INTEGER CHECK (follow_up_days BETWEEN 0 AND 365);
ALTER TABLE shop ADD COLUMN
    follow_up_intermittent_days INTEGER CHECK (follow_up_intermittent_days BETWEEN 0 AND 365);
ALTER TABLE part_policy ADD COLUMN
    version INTEGER CHECK (version >= 1);
ALTER TABLE code_entry ADD COLUMN
    access TEXT CHECK (access IN ('none', 'light', 'lift', 'wheels', 'rack', 'plugs_out', 'cover', 'deep', 'varies', 'trained'));

-- A plan of checks for a symptom, for all vehicles or for a model or an engine. Its
-- steps are in its versions.
CREATE TABLE check_plan (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    symptom TEXT NOT NULL CHECK (length(symptom) BETWEEN 1 AND 80),
    model TEXT CHECK (length(model) BETWEEN 1 AND 100),
    engine TEXT CHECK (length(engine) BETWEEN 1 AND 100),
    made_at TEXT NOT NULL,
    withdrawn_at TEXT,
    withdrawn_reason TEXT CHECK (length(withdrawn_reason) BETWEEN 1 AND 1000),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    CHECK (version >= 1)
) STRICT;

-- A plan as it was at one time: proposed, in force, or no longer. The steps are never
-- changed; another version takes their place.
CREATE TABLE check_plan_version (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    plan_id TEXT NOT NULL,
    number INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('proposed', 'in_force', 'declined', 'replaced')),
    origin TEXT NOT NULL CHECK (origin IN ('starting', 'own', 'record')),
    steps_json TEXT NOT NULL CHECK (length(steps_json) BETWEEN 2 AND 100000),
    evidence_json TEXT CHECK (length(evidence_json) BETWEEN 2 AND 100000),
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 1000),
    person_id TEXT REFERENCES person (id),
    made_at TEXT NOT NULL,
    decided_by TEXT REFERENCES person (id),
    decided_at TEXT,
    from_at TEXT,
    to_at TEXT,
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, plan_id, number),
    FOREIGN KEY (shop_id, plan_id) REFERENCES check_plan (shop_id, id),
    CHECK (number >= 1),
    CHECK (state <> 'in_force' OR from_at IS NOT NULL),
    CHECK (to_at IS NULL OR from_at IS NOT NULL)
) STRICT;

-- A decision of the shop, with what it was taken on.
CREATE TABLE shop_rule (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('replace_suspect', 'clean_and_test', 'check_first', 'reading_limit', 'free_text')),
    title TEXT NOT NULL CHECK (length(title) BETWEEN 1 AND 200),
    words TEXT NOT NULL CHECK (length(words) BETWEEN 1 AND 2000),
    symptom TEXT CHECK (length(symptom) BETWEEN 1 AND 80),
    part TEXT CHECK (length(part) BETWEEN 1 AND 200),
    check_code TEXT CHECK (length(check_code) BETWEEN 1 AND 80),
    unit TEXT CHECK (length(unit) BETWEEN 1 AND 40),
    low_limit REAL,
    high_limit REAL,
    limit_source TEXT CHECK (length(limit_source) BETWEEN 1 AND 400),
    about TEXT CHECK (length(about) BETWEEN 1 AND 2000),
    evidence TEXT NOT NULL CHECK (length(evidence) BETWEEN 1 AND 4000),
    evidence_json TEXT CHECK (length(evidence_json) BETWEEN 2 AND 100000),
    owner_id TEXT NOT NULL REFERENCES person (id),
    starts_on TEXT NOT NULL,
    review_on TEXT NOT NULL,
    taken_by TEXT NOT NULL REFERENCES person (id),
    taken_at TEXT NOT NULL,
    reviewed_on TEXT,
    reviewed_by TEXT REFERENCES person (id),
    review_word TEXT CHECK (review_word IN ('kept', 'changed', 'withdrawn')),
    review_note TEXT CHECK (length(review_note) BETWEEN 1 AND 2000),
    withdrawn_on TEXT,
    withdrawn_by TEXT REFERENCES person (id),
    withdrawn_reason TEXT CHECK (length(withdrawn_reason) BETWEEN 1 AND 1000),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    CHECK (version >= 1),
    CHECK (review_on > starts_on),
    CHECK (kind NOT IN ('replace_suspect', 'clean_and_test') OR part IS NOT NULL),
    CHECK (kind NOT IN ('check_first', 'reading_limit') OR check_code IS NOT NULL),
    CHECK (kind <> 'check_first' OR symptom IS NOT NULL),
    CHECK (kind <> 'reading_limit' OR (unit IS NOT NULL AND (low_limit IS NOT NULL OR high_limit IS NOT NULL))),
    CHECK (withdrawn_on IS NULL OR withdrawn_reason IS NOT NULL)
) STRICT;

-- What was said of a rule on a job: why it was not followed, or, where the record
-- cannot tell, whether it was.
CREATE TABLE rule_answer (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    rule_id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    kept INTEGER,
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 1000),
    person_id TEXT NOT NULL REFERENCES person (id),
    answered_at TEXT NOT NULL,
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, rule_id, job_id),
    FOREIGN KEY (shop_id, rule_id) REFERENCES shop_rule (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (kept IS NOT NULL OR reason IS NOT NULL),
    CHECK (version >= 1)
) STRICT;

-- Readings that are taken of a vehicle before it leaves. The lines are in its
-- versions.
CREATE TABLE reading_list (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    purpose TEXT NOT NULL CHECK (purpose IN ('preparation', 'hand_over')),
    make TEXT CHECK (length(make) BETWEEN 1 AND 100),
    model TEXT CHECK (length(model) BETWEEN 1 AND 100),
    engine TEXT CHECK (length(engine) BETWEEN 1 AND 100),
    symptom TEXT CHECK (length(symptom) BETWEEN 1 AND 80),
    withdrawn_at TEXT,
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    CHECK (version >= 1)
) STRICT;

-- A list as it was at one time, with limits, sources and editions.
CREATE TABLE reading_list_version (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    list_id TEXT NOT NULL,
    number INTEGER NOT NULL,
    lines_json TEXT NOT NULL CHECK (length(lines_json) BETWEEN 2 AND 200000),
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 1000),
    person_id TEXT REFERENCES person (id),
    made_at TEXT NOT NULL,
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, list_id, number),
    FOREIGN KEY (shop_id, list_id) REFERENCES reading_list (shop_id, id),
    CHECK (number >= 1)
) STRICT;

-- The readings of one vehicle by one list.
CREATE TABLE reading_sheet (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    list_version_id TEXT NOT NULL,
    vehicle_id TEXT NOT NULL,
    job_id TEXT,
    begun_by TEXT NOT NULL REFERENCES person (id),
    begun_at TEXT NOT NULL,
    begun_on TEXT NOT NULL,
    passed_at TEXT,
    passed_by TEXT REFERENCES person (id),
    note TEXT CHECK (length(note) BETWEEN 1 AND 2000),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, list_version_id) REFERENCES reading_list_version (shop_id, id),
    FOREIGN KEY (shop_id, vehicle_id) REFERENCES vehicle (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (version >= 1)
) STRICT;

-- One reading; taken again it is another row, and the later one counts.
CREATE TABLE reading_taken (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    sheet_id TEXT NOT NULL,
    line_key TEXT NOT NULL CHECK (length(line_key) BETWEEN 1 AND 80),
    place TEXT CHECK (length(place) BETWEEN 1 AND 40),
    attempt INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('measured', 'not_applicable', 'not_measured')),
    value REAL,
    unit TEXT CHECK (length(unit) BETWEEN 1 AND 40),
    temperature REAL,
    temperature_unit TEXT CHECK (temperature_unit IN ('Cel', '[degF]')),
    words TEXT CHECK (length(words) BETWEEN 1 AND 400),
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 1000),
    person_id TEXT NOT NULL REFERENCES person (id),
    taken_at TEXT NOT NULL,
    taken_on TEXT NOT NULL,
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, sheet_id) REFERENCES reading_sheet (shop_id, id),
    CHECK (attempt >= 1),
    CHECK (state = 'measured' OR reason IS NOT NULL),
    CHECK (state <> 'measured' OR value IS NOT NULL OR words IS NOT NULL),
    CHECK ((temperature IS NULL) = (temperature_unit IS NULL))
) STRICT;

-- A vehicle that waits in stock.
CREATE TABLE stock_vehicle (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    vehicle_id TEXT NOT NULL,
    arrived_on TEXT NOT NULL,
    left_on TEXT,
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, vehicle_id, arrived_on),
    FOREIGN KEY (shop_id, vehicle_id) REFERENCES vehicle (shop_id, id),
    CHECK (left_on IS NULL OR left_on >= arrived_on),
    CHECK (version >= 1)
) STRICT;

-- A call some days after the hand-over, and its answer.
CREATE TABLE follow_up (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    job_id TEXT NOT NULL,
    called_on TEXT NOT NULL,
    answer TEXT NOT NULL CHECK (answer IN ('fixed', 'not_fixed', 'fixed_elsewhere', 'no_contact')),
    note TEXT CHECK (length(note) BETWEEN 1 AND 2000),
    person_id TEXT NOT NULL REFERENCES person (id),
    written_at TEXT NOT NULL,
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, job_id) REFERENCES job (shop_id, id),
    CHECK (version >= 1)
) STRICT;

-- What the manager and the technician found about a comeback.
CREATE TABLE enquiry (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    comeback_id TEXT NOT NULL,
    failed_item TEXT CHECK (length(failed_item) BETWEEN 1 AND 400),
    conditions TEXT CHECK (length(conditions) BETWEEN 1 AND 2000),
    verified INTEGER,
    verified_how TEXT CHECK (length(verified_how) BETWEEN 1 AND 2000),
    checked TEXT CHECK (length(checked) BETWEEN 1 AND 4000),
    not_checked TEXT CHECK (length(not_checked) BETWEEN 1 AND 4000),
    analysis TEXT CHECK (length(analysis) BETWEEN 1 AND 4000),
    reason TEXT CHECK (length(reason) BETWEEN 1 AND 80),
    contributing TEXT CHECK (length(contributing) BETWEEN 1 AND 80),
    attribution TEXT CHECK (attribution IN ('shop_work', 'shop_process', 'supplier', 'customer_choice', 'none')),
    technician_id TEXT REFERENCES person (id),
    technician_says TEXT CHECK (length(technician_says) BETWEEN 1 AND 4000),
    said_by TEXT REFERENCES person (id),
    held_on TEXT NOT NULL,
    held_by TEXT NOT NULL REFERENCES person (id),
    closed_on TEXT,
    closed_by TEXT REFERENCES person (id),
    close_note TEXT CHECK (length(close_note) BETWEEN 1 AND 2000),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    UNIQUE (shop_id, comeback_id),
    FOREIGN KEY (shop_id, comeback_id) REFERENCES comeback (shop_id, id),
    CHECK (version >= 1)
) STRICT;

-- What the shop changes, who does it by when, and whether it kept the trouble away.
CREATE TABLE corrective_action (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    enquiry_id TEXT,
    kind TEXT NOT NULL CHECK (kind IN ('rule', 'check_plan', 'training', 'supplier', 'other')),
    words TEXT NOT NULL CHECK (length(words) BETWEEN 1 AND 2000),
    owner_id TEXT NOT NULL REFERENCES person (id),
    due_on TEXT,
    state TEXT NOT NULL CHECK (state IN ('open', 'done', 'dropped')),
    done_on TEXT,
    done_note TEXT CHECK (length(done_note) BETWEEN 1 AND 2000),
    rule_id TEXT,
    plan_id TEXT,
    verified_on TEXT,
    verified_by TEXT REFERENCES person (id),
    verified_how TEXT CHECK (length(verified_how) BETWEEN 1 AND 2000),
    held INTEGER,
    made_by TEXT NOT NULL REFERENCES person (id),
    made_at TEXT NOT NULL,
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    FOREIGN KEY (shop_id, enquiry_id) REFERENCES enquiry (shop_id, id),
    FOREIGN KEY (shop_id, rule_id) REFERENCES shop_rule (shop_id, id),
    FOREIGN KEY (shop_id, plan_id) REFERENCES check_plan (shop_id, id),
    CHECK (state = 'open' OR done_on IS NOT NULL),
    CHECK (verified_on IS NULL OR (verified_how IS NOT NULL AND held IS NOT NULL)),
    CHECK (version >= 1)
) STRICT;

-- A group that is not warned of, and why.
CREATE TABLE warning_silence (
    shop_id INTEGER NOT NULL REFERENCES shop (id),
    id TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (length(kind) BETWEEN 1 AND 40),
    group_key TEXT NOT NULL CHECK (length(group_key) BETWEEN 1 AND 400),
    reason TEXT NOT NULL CHECK (length(reason) BETWEEN 1 AND 1000),
    until_on TEXT,
    person_id TEXT NOT NULL REFERENCES person (id),
    made_at TEXT NOT NULL,
    ended_at TEXT,
    ended_by TEXT REFERENCES person (id),
    version INTEGER NOT NULL,
    PRIMARY KEY (shop_id, id),
    CHECK (version >= 1)
) STRICT;

CREATE UNIQUE INDEX check_plan_of_symptom ON check_plan
    (shop_id, symptom, COALESCE(model, ''), COALESCE(engine, '')) WHERE withdrawn_at IS NULL;
CREATE UNIQUE INDEX check_plan_version_in_force ON check_plan_version
    (shop_id, plan_id) WHERE state = 'in_force';
CREATE INDEX rule_answer_by_job ON rule_answer (shop_id, job_id);
CREATE INDEX reading_sheet_by_vehicle ON reading_sheet (shop_id, vehicle_id);
CREATE INDEX reading_sheet_by_job ON reading_sheet (shop_id, job_id);
CREATE UNIQUE INDEX reading_taken_once ON reading_taken
    (shop_id, sheet_id, line_key, COALESCE(place, ''), attempt);
CREATE UNIQUE INDEX stock_vehicle_waiting ON stock_vehicle (shop_id, vehicle_id) WHERE left_on IS NULL;
CREATE INDEX follow_up_by_job ON follow_up (shop_id, job_id);
CREATE INDEX corrective_action_by_state ON corrective_action (shop_id, state);
CREATE UNIQUE INDEX warning_silence_once ON warning_silence (shop_id, kind, group_key) WHERE ended_at IS NULL;
