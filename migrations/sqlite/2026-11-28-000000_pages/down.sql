ALTER TABLE shop DROP COLUMN date_style;
