-- A part may now lack its series, tolerance and size, and may give ratings of
-- its own in place of its series': one JSON document, NULL where it has none.
-- sqlite/0002_ratings says why.
ALTER TABLE parts
    ALTER COLUMN series        DROP NOT NULL,
    ALTER COLUMN tol_minus_pct DROP NOT NULL,
    ALTER COLUMN tol_plus_pct  DROP NOT NULL,
    ALTER COLUMN diameter_mm   DROP NOT NULL,
    ALTER COLUMN length_mm     DROP NOT NULL,
    ADD CONSTRAINT parts_series_check CHECK (series <> ''),
    ADD COLUMN leakage_min double precision CHECK (leakage_min > 0 AND leakage_min < 1e6),
    ADD COLUMN ratings     json;
