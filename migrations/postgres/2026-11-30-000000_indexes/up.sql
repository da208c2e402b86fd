-- What is usual for a complaint is asked each time a job of it is shown.
CREATE INDEX job_by_symptom ON job (shop_id, symptom, id);

-- What was handed over in some weeks is asked for calls, plans and second visits.
CREATE INDEX repair_order_by_closing ON repair_order (shop_id, closed_on);

-- Lists of orders are of one status, the latest first.
DROP INDEX repair_order_open;
CREATE INDEX repair_order_by_status ON repair_order (shop_id, status, opened_at, id);

-- What each index leads to, in each database's own words.
-- PostgreSQL counts by itself.
