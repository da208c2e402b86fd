-- What a person did, in the order of time, whichever shop of the group it was in.
CREATE INDEX labor_entry_of_person ON labor_entry (person_id, started_at);

-- Nobody works twice at once, in each database's own words.
-- Entries do not overlap, so the last one begun before the end is the one to look at. What
-- an earlier program let stand is left as it is: an EXCLUDE would refuse the step. Two shops
-- that write of one person at once stand in line at the person's row. It is asked across the
-- shops, whichever of them the transaction is for.
CREATE FUNCTION labor_once() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    reach TEXT := current_setting('onetrip.shop', true);
BEGIN
    PERFORM set_config('onetrip.shop', 'all', true);
    PERFORM 1 FROM person WHERE id = NEW.person_id FOR NO KEY UPDATE;
    PERFORM 1 FROM (
        SELECT ended_at FROM labor_entry
        WHERE person_id = NEW.person_id AND started_at < coalesce(NEW.ended_at, 'infinity')
            AND (shop_id, id) <> (NEW.shop_id, NEW.id)
        ORDER BY started_at DESC LIMIT 1
    ) AS last WHERE coalesce(ended_at, 'infinity') > NEW.started_at;
    IF FOUND THEN
        RAISE EXCEPTION 'nobody works twice at once' USING ERRCODE = 'exclusion_violation';
    END IF;
    PERFORM set_config('onetrip.shop', reach, true);
    RETURN NEW;
END $$;
CREATE TRIGGER labor_entry_once_new BEFORE INSERT ON labor_entry
    FOR EACH ROW EXECUTE FUNCTION labor_once();
CREATE TRIGGER labor_entry_once_moved BEFORE UPDATE OF person_id, started_at, ended_at ON labor_entry
    FOR EACH ROW EXECUTE FUNCTION labor_once();
