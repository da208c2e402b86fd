-- Between the shops stands a wall of the database's own, in each database's own words.
-- A transaction says whose rows it is for: a shop's number, or all. One that says nothing finds
-- nothing. FORCE, since the program's own user owns the tables; a superuser walks through walls.
-- Left out is what is asked before the shop is known, and what a person's new name moves in
-- every shop of the group. A table that comes later calls this, too.
CREATE FUNCTION wall(walled regclass) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('alter table %s enable row level security', walled);
    EXECUTE format('alter table %s force row level security', walled);
    EXECUTE format(
        'CREATE POLICY one_shop ON %s USING ('
        '(SELECT current_setting(''onetrip.shop'', true)) = ''all'' OR shop_id = '
        '(SELECT nullif(nullif(current_setting(''onetrip.shop'', true), ''''), ''all'')::integer))',
        walled
    );
END $$;
SELECT wall(attrelid::regclass) FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid
    WHERE attname = 'shop_id' AND relkind = 'r' AND relnamespace = current_schema()::regnamespace
    AND relname NOT IN ('role_grant', 'settings_stamp');
