-- Nobody works twice at once, in each database's own words.
DROP TRIGGER labor_entry_once_new;
DROP TRIGGER labor_entry_once_moved;
DELETE FROM sqlite_stat1 WHERE idx = 'labor_entry_of_person';
DROP INDEX labor_entry_of_person;
