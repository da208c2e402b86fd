-- Triggers, in each database's own words.
DROP TRIGGER access_delete_of_session ON session;
DROP TRIGGER access_update_of_session ON session;
DROP TRIGGER access_update_of_person ON person;
DROP TRIGGER access_insert_of_role_grant ON role_grant;
DROP TRIGGER access_update_of_role_grant ON role_grant;
DROP TRIGGER access_delete_of_role_grant ON role_grant;
DROP TRIGGER access_update_of_access_token ON access_token;
DROP TRIGGER access_delete_of_access_token ON access_token;
DROP TRIGGER access_update_of_tablet ON tablet;
DROP TRIGGER access_delete_of_tablet ON tablet;
DROP TRIGGER access_insert_of_shop ON shop;
DROP TRIGGER access_update_of_shop ON shop;
DROP TRIGGER access_delete_of_shop ON shop;
DROP FUNCTION access_moves();
DROP TABLE access_stamp;
