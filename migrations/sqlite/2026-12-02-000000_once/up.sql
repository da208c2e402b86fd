-- What a person did, in the order of time, whichever shop of the group it was in.
CREATE INDEX labor_entry_of_person ON labor_entry (person_id, started_at);

-- Nobody works twice at once, in each database's own words.
-- Entries do not overlap, so the last one begun before the end is the one to look at. What
-- an earlier program let stand is left as it is.
CREATE TRIGGER labor_entry_once_new BEFORE INSERT ON labor_entry
WHEN EXISTS (
    SELECT 1 FROM (
        SELECT ended_at FROM labor_entry
        WHERE person_id = NEW.person_id AND started_at < coalesce(NEW.ended_at, '9999')
        ORDER BY started_at DESC LIMIT 1
    ) WHERE coalesce(ended_at, '9999') > NEW.started_at
) BEGIN
    SELECT RAISE(ABORT, 'nobody works twice at once');
END;
CREATE TRIGGER labor_entry_once_moved BEFORE UPDATE OF person_id, started_at, ended_at ON labor_entry
WHEN EXISTS (
    SELECT 1 FROM (
        SELECT ended_at FROM labor_entry
        WHERE person_id = NEW.person_id AND started_at < coalesce(NEW.ended_at, '9999')
            AND (shop_id, id) <> (OLD.shop_id, OLD.id)
        ORDER BY started_at DESC LIMIT 1
    ) WHERE coalesce(ended_at, '9999') > NEW.started_at
) BEGIN
    SELECT RAISE(ABORT, 'nobody works twice at once');
END;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('labor_entry', 'labor_entry_of_person', '5068340 21119 1');
