-- What a person did, in the order of time, whichever shop of the group it was in.
CREATE INDEX labor_entry_of_person ON labor_entry (person_id, started_at);

-- Nobody works twice at once, in each database's own words.
-- On SQLite writes stand in one line, so the decision inside a write sees all that were before.
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('labor_entry', 'labor_entry_of_person', '5068340 21119 1');
