-- Who may do what changes seldom, by many hands. One number tells whether any of it did:
-- what is known of who asks stays known until it moves. A new session or token is
-- nobody's yet, and when one was last used changes no right.
CREATE TABLE access_stamp (
    id INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    moved INTEGER NOT NULL
) STRICT;
INSERT INTO access_stamp (id, moved) VALUES (1, 0);

-- Triggers, in each database's own words.
CREATE TRIGGER access_delete_of_session AFTER DELETE ON session BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_session AFTER UPDATE OF person_id, kind, ends_at, tablet_id ON session BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_person AFTER UPDATE ON person BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_insert_of_role_grant AFTER INSERT ON role_grant BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_role_grant AFTER UPDATE ON role_grant BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_delete_of_role_grant AFTER DELETE ON role_grant BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_access_token AFTER UPDATE OF person_id, scope, ends_at, revoked_at ON access_token BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_delete_of_access_token AFTER DELETE ON access_token BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_tablet AFTER UPDATE ON tablet BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_delete_of_tablet AFTER DELETE ON tablet BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_insert_of_shop AFTER INSERT ON shop BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_update_of_shop AFTER UPDATE ON shop BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
CREATE TRIGGER access_delete_of_shop AFTER DELETE ON shop BEGIN
    UPDATE access_stamp SET moved = moved + 1;
END;
