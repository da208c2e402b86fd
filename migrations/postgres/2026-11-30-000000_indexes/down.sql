CREATE INDEX repair_order_open ON repair_order (shop_id, promised_at) WHERE status = 'open';
DROP INDEX repair_order_by_status;
DROP INDEX repair_order_by_closing;
DROP INDEX job_by_symptom;

-- What each index leads to, in each database's own words.
