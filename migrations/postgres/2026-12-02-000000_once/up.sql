-- What a person did, in the order of time, whichever shop of the group it was in.
CREATE INDEX labor_entry_of_person ON labor_entry (person_id, started_at);

-- Nobody works twice at once, in each database's own words.
-- Two requests in two shops of a group do not see each other's write, so they stand in line at
-- the person's row, and then look across the shops. Only requests are held to it: files of two
-- shops may name two people alike, and a copy takes what is there; an EXCLUDE could not tell
-- them. So entries may overlap already: one that ends sooner or begins later always may.
CREATE FUNCTION labor_once() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    reach TEXT := current_setting('onetrip.shop', true);
BEGIN
    IF coalesce(reach, '') IN ('', 'all') THEN
        RETURN NEW;
    END IF;
    IF TG_OP = 'UPDATE' AND NEW.person_id = OLD.person_id AND NEW.started_at >= OLD.started_at
        AND coalesce(NEW.ended_at, 'infinity') <= coalesce(OLD.ended_at, 'infinity') THEN
        RETURN NEW;
    END IF;
    PERFORM set_config('onetrip.shop', 'all', true);
    PERFORM 1 FROM person WHERE id = NEW.person_id FOR NO KEY UPDATE;
    IF EXISTS (
        SELECT 1 FROM labor_entry
        WHERE person_id = NEW.person_id AND started_at < coalesce(NEW.ended_at, 'infinity')
            AND coalesce(ended_at, 'infinity') > NEW.started_at
            AND (shop_id, id) <> (NEW.shop_id, NEW.id)
    ) THEN
        RAISE EXCEPTION 'nobody works twice at once' USING ERRCODE = 'exclusion_violation';
    END IF;
    PERFORM set_config('onetrip.shop', reach, true);
    RETURN NEW;
END $$;
CREATE TRIGGER labor_entry_once_new BEFORE INSERT ON labor_entry
    FOR EACH ROW EXECUTE FUNCTION labor_once();
CREATE TRIGGER labor_entry_once_moved BEFORE UPDATE OF person_id, started_at, ended_at ON labor_entry
    FOR EACH ROW EXECUTE FUNCTION labor_once();
