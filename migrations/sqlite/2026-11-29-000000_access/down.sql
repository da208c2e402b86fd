-- Triggers, in each database's own words.
DROP TRIGGER access_delete_of_session;
DROP TRIGGER access_update_of_session;
DROP TRIGGER access_update_of_person;
DROP TRIGGER access_insert_of_role_grant;
DROP TRIGGER access_update_of_role_grant;
DROP TRIGGER access_delete_of_role_grant;
DROP TRIGGER access_update_of_access_token;
DROP TRIGGER access_delete_of_access_token;
DROP TRIGGER access_update_of_tablet;
DROP TRIGGER access_delete_of_tablet;
DROP TRIGGER access_insert_of_shop;
DROP TRIGGER access_update_of_shop;
DROP TRIGGER access_delete_of_shop;
DROP TABLE access_stamp;
