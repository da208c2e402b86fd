-- What reports read of a shop beside its jobs changes seldom, by many hands and on no job.
-- One number a shop tells whether any of it did.
CREATE TABLE settings_stamp (
    shop_id INTEGER NOT NULL PRIMARY KEY REFERENCES shop (id),
    moved BIGINT NOT NULL
);
INSERT INTO settings_stamp (shop_id, moved) SELECT id, 0 FROM shop;

-- What was touched after a change, and what hangs on a later job.
CREATE INDEX repair_order_by_change ON repair_order (shop_id, change_no);
CREATE INDEX comeback_of_later ON comeback (shop_id, later_job_id);

-- Triggers, in each database's own words.
CREATE FUNCTION settings_of_new_shop() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO settings_stamp (shop_id, moved) VALUES (NEW.id, 0);
    RETURN NULL;
END $$;
CREATE TRIGGER settings_of_new_shop AFTER INSERT ON shop
    FOR EACH ROW EXECUTE FUNCTION settings_of_new_shop();
CREATE FUNCTION settings_of_shop() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.id;
    RETURN NULL;
END $$;
CREATE TRIGGER settings_of_shop AFTER UPDATE ON shop
    FOR EACH ROW EXECUTE FUNCTION settings_of_shop();
CREATE FUNCTION settings_of_person() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id IN (
        SELECT id FROM shop WHERE group_id = NEW.group_id
    );
    RETURN NULL;
END $$;
CREATE TRIGGER settings_of_person AFTER INSERT OR UPDATE OF name ON person
    FOR EACH ROW EXECUTE FUNCTION settings_of_person();
CREATE FUNCTION settings_of_row() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' THEN
        UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
    ELSE
        UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER settings_of_part_policy AFTER INSERT OR UPDATE OR DELETE ON part_policy
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
CREATE TRIGGER settings_of_code_entry AFTER INSERT OR UPDATE OR DELETE ON code_entry
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
CREATE TRIGGER settings_of_check_plan AFTER INSERT OR UPDATE OR DELETE ON check_plan
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
CREATE TRIGGER settings_of_check_plan_version AFTER INSERT OR UPDATE OR DELETE ON check_plan_version
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
CREATE TRIGGER settings_of_shop_rule AFTER INSERT OR UPDATE OR DELETE ON shop_rule
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
CREATE TRIGGER settings_of_warning_silence AFTER INSERT OR UPDATE OR DELETE ON warning_silence
    FOR EACH ROW EXECUTE FUNCTION settings_of_row();
