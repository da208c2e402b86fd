ALTER TABLE shop ADD COLUMN
    date_style TEXT CHECK (date_style IN ('us', 'day_first', 'iso'));
