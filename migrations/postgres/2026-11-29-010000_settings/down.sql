-- Triggers, in each database's own words.
DROP TRIGGER settings_of_warning_silence ON warning_silence;
DROP TRIGGER settings_of_shop_rule ON shop_rule;
DROP TRIGGER settings_of_check_plan_version ON check_plan_version;
DROP TRIGGER settings_of_check_plan ON check_plan;
DROP TRIGGER settings_of_code_entry ON code_entry;
DROP TRIGGER settings_of_part_policy ON part_policy;
DROP TRIGGER settings_of_person ON person;
DROP TRIGGER settings_of_shop ON shop;
DROP TRIGGER settings_of_new_shop ON shop;
DROP FUNCTION settings_of_row();
DROP FUNCTION settings_of_person();
DROP FUNCTION settings_of_shop();
DROP FUNCTION settings_of_new_shop();
DROP INDEX comeback_of_later;
DROP INDEX repair_order_by_change;
DROP TABLE settings_stamp;
