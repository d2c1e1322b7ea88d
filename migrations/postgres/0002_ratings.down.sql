-- Refused, and undone, where a part has what version 1 cannot keep: without
-- its own ratings it would be judged by its series', which may allow it more.
UPDATE parts SET maker = NULL WHERE ratings IS NOT NULL OR leakage_min IS NOT NULL;
ALTER TABLE parts
    DROP COLUMN ratings,
    DROP COLUMN leakage_min,
    DROP CONSTRAINT parts_series_check,
    ALTER COLUMN length_mm     SET NOT NULL,
    ALTER COLUMN diameter_mm   SET NOT NULL,
    ALTER COLUMN tol_plus_pct  SET NOT NULL,
    ALTER COLUMN tol_minus_pct SET NOT NULL,
    ALTER COLUMN series        SET NOT NULL;
