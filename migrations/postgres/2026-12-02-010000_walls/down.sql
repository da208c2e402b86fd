-- Between the shops stands a wall of the database's own, in each database's own words.
DO $$
DECLARE walled regclass;
BEGIN
    FOR walled IN SELECT polrelid::regclass FROM pg_policy WHERE polname = 'one_shop' LOOP
        EXECUTE format('DROP POLICY one_shop ON %s', walled);
        EXECUTE format('ALTER TABLE %s NO FORCE ROW LEVEL SECURITY', walled);
        EXECUTE format('ALTER TABLE %s DISABLE ROW LEVEL SECURITY', walled);
    END LOOP;
END $$;
DROP FUNCTION wall(regclass);
