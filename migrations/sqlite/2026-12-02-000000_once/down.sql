-- Nobody works twice at once, in each database's own words.
DELETE FROM sqlite_stat1 WHERE idx = 'labor_entry_of_person';
DROP INDEX labor_entry_of_person;
