-- Nobody works twice at once, in each database's own words.
DROP TRIGGER labor_entry_once_new ON labor_entry;
DROP TRIGGER labor_entry_once_moved ON labor_entry;
DROP FUNCTION labor_once();
DROP INDEX labor_entry_of_person;
