-- What reports read of a shop beside its jobs changes seldom, by many hands and on no job.
-- One number a shop tells whether any of it did.
CREATE TABLE settings_stamp (
    shop_id INTEGER NOT NULL PRIMARY KEY REFERENCES shop (id),
    moved INTEGER NOT NULL
) STRICT;
INSERT INTO settings_stamp (shop_id, moved) SELECT id, 0 FROM shop;

-- What was touched after a change, and what hangs on a later job.
CREATE INDEX repair_order_by_change ON repair_order (shop_id, change_no);
CREATE INDEX comeback_of_later ON comeback (shop_id, later_job_id);

-- Triggers, in each database's own words.
CREATE TRIGGER settings_of_new_shop AFTER INSERT ON shop BEGIN
    INSERT INTO settings_stamp (shop_id, moved) VALUES (NEW.id, 0);
END;
CREATE TRIGGER settings_of_shop AFTER UPDATE ON shop BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.id;
END;
CREATE TRIGGER settings_of_new_person AFTER INSERT ON person BEGIN
    UPDATE settings_stamp SET moved = moved + 1
        WHERE shop_id IN (SELECT id FROM shop WHERE group_id = NEW.group_id);
END;
CREATE TRIGGER settings_of_person AFTER UPDATE OF name ON person BEGIN
    UPDATE settings_stamp SET moved = moved + 1
        WHERE shop_id IN (SELECT id FROM shop WHERE group_id = NEW.group_id);
END;
CREATE TRIGGER settings_of_new_part_policy AFTER INSERT ON part_policy BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_part_policy AFTER UPDATE ON part_policy BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_part_policy AFTER DELETE ON part_policy BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
CREATE TRIGGER settings_of_new_code_entry AFTER INSERT ON code_entry BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_code_entry AFTER UPDATE ON code_entry BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_code_entry AFTER DELETE ON code_entry BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
CREATE TRIGGER settings_of_new_check_plan AFTER INSERT ON check_plan BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_check_plan AFTER UPDATE ON check_plan BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_check_plan AFTER DELETE ON check_plan BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
CREATE TRIGGER settings_of_new_check_plan_version AFTER INSERT ON check_plan_version BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_check_plan_version AFTER UPDATE ON check_plan_version BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_check_plan_version AFTER DELETE ON check_plan_version BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
CREATE TRIGGER settings_of_new_shop_rule AFTER INSERT ON shop_rule BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_shop_rule AFTER UPDATE ON shop_rule BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_shop_rule AFTER DELETE ON shop_rule BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
CREATE TRIGGER settings_of_new_warning_silence AFTER INSERT ON warning_silence BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_changed_warning_silence AFTER UPDATE ON warning_silence BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = NEW.shop_id;
END;
CREATE TRIGGER settings_of_deleted_warning_silence AFTER DELETE ON warning_silence BEGIN
    UPDATE settings_stamp SET moved = moved + 1 WHERE shop_id = OLD.shop_id;
END;
