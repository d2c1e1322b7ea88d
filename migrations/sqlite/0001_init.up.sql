-- The first schema. Rules that hold for every table here:
--   * every row belongs to a shop, and the shop leads every primary key and
--     every index. The one table without it is probe, which holds nothing of
--     anybody's.
--   * text compares by its bytes (BINARY, the default), as Go compares strings.
--   * quantities are REAL in the unit their column names. They are the
--     engineering units of the documents, µF and mm, not SI: what a document
--     said must come back bit for bit, and 22 µF multiplied to farads and
--     divided back need not.
--   * money is INTEGER millionths of the currency beside it; instants are
--     INTEGER µs of UTC since 1970; both end in their unit.
--   * the CHECKs keep out what has the wrong sign, is not finite or is no word
--     of the closed sets. NaN arrives as NULL, so NOT NULL or the sign keeps
--     it out too. The narrower limits are domain/part's, which can then move
--     without a migration.
--
-- A part is in columns and child tables, not in a JSON document: the filters,
-- the imports and the suppliers' price lists each touch single columns, and a
-- document beside the columns would be a second copy that can disagree. A
-- series and an amplifier are documents: they are read whole, never searched
-- by what is inside, and few.

CREATE TABLE series (
    shop       TEXT    NOT NULL CHECK (shop <> ''),
    name       TEXT    NOT NULL CHECK (name <> ''),
    document   TEXT    NOT NULL CHECK (json_valid(document)),
    changed_us INTEGER NOT NULL,
    PRIMARY KEY (shop, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE parts (
    shop           TEXT    NOT NULL CHECK (shop <> ''),
    id             TEXT    NOT NULL CHECK (id <> ''),
    version        INTEGER NOT NULL CHECK (version >= 1),
    created_us     INTEGER NOT NULL,
    changed_us     INTEGER NOT NULL,
    maker          TEXT    NOT NULL CHECK (maker <> ''),
    part_number    TEXT    NOT NULL CHECK (part_number <> ''),
    series         TEXT    NOT NULL,
    technology     TEXT    NOT NULL CHECK (technology IN ('electrolytic', 'film', 'safety_x', 'safety_y')),
    style          TEXT    NOT NULL CHECK (style IN ('axial', 'radial', 'snap_in', 'can', 'box', 'disc')),
    -- Of the first section; further ones are in part_sections, and
    -- further_count spares the look for those that nearly no part has.
    capacitance_uf REAL    NOT NULL CHECK (capacitance_uf > 0 AND capacitance_uf < 1e9),
    further_count  INTEGER NOT NULL CHECK (further_count >= 0),
    tol_minus_pct  REAL    NOT NULL CHECK (tol_minus_pct >= 0 AND tol_minus_pct <= 100),
    tol_plus_pct   REAL    NOT NULL CHECK (tol_plus_pct >= 0 AND tol_plus_pct < 1e6),
    rated_v        REAL    NOT NULL CHECK (rated_v > 0 AND rated_v < 1e6),
    rated_v_ac     REAL    CHECK (rated_v_ac > 0 AND rated_v_ac < 1e6),
    safety_class   TEXT    NOT NULL CHECK (safety_class IN ('', 'X1', 'X2', 'Y1', 'Y2')),
    surge_v        REAL    CHECK (surge_v > 0 AND surge_v < 1e6),
    ripple_ma      REAL    CHECK (ripple_ma >= 0 AND ripple_ma < 1e9),
    esr_ohm        REAL    CHECK (esr_ohm >= 0 AND esr_ohm < 1e9),
    leakage_ua     REAL    CHECK (leakage_ua >= 0 AND leakage_ua < 1e12),
    diameter_mm    REAL    NOT NULL CHECK (diameter_mm > 0 AND diameter_mm < 1e4),
    length_mm      REAL    NOT NULL CHECK (length_mm > 0 AND length_mm < 1e4),
    thickness_mm   REAL    CHECK (thickness_mm > 0 AND thickness_mm < 1e4),
    lead_pitch_mm  REAL    CHECK (lead_pitch_mm > 0 AND lead_pitch_mm < 1e4),
    note           TEXT    NOT NULL,
    -- The sum over the part's offers, kept in the transaction that writes them.
    stock          INTEGER NOT NULL CHECK (stock >= 0),
    PRIMARY KEY (shop, id),
    UNIQUE (shop, maker, part_number),
    FOREIGN KEY (shop, series) REFERENCES series (shop, name)
) STRICT;

CREATE INDEX parts_by_value ON parts (shop, technology, capacitance_uf, rated_v);
CREATE INDEX parts_by_series ON parts (shop, series);

CREATE TABLE part_sections (
    shop           TEXT    NOT NULL,
    part_id        TEXT    NOT NULL,
    place          INTEGER NOT NULL CHECK (place >= 0),
    capacitance_uf REAL    NOT NULL CHECK (capacitance_uf > 0 AND capacitance_uf < 1e9),
    PRIMARY KEY (shop, part_id, place),
    FOREIGN KEY (shop, part_id) REFERENCES parts (shop, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE INDEX part_sections_by_value ON part_sections (shop, capacitance_uf);

CREATE TABLE part_offers (
    shop      TEXT    NOT NULL,
    part_id   TEXT    NOT NULL,
    place     INTEGER NOT NULL CHECK (place >= 0),
    supplier  TEXT    NOT NULL,
    sku       TEXT    NOT NULL,
    currency  TEXT    NOT NULL,
    pack      INTEGER NOT NULL CHECK (pack >= 1),
    min_qty   INTEGER NOT NULL CHECK (min_qty >= 1),
    stock     INTEGER NOT NULL CHECK (stock >= 0),
    lead_days INTEGER NOT NULL CHECK (lead_days >= 0),
    preferred INTEGER NOT NULL CHECK (preferred IN (0, 1)),
    PRIMARY KEY (shop, part_id, place),
    FOREIGN KEY (shop, part_id) REFERENCES parts (shop, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE INDEX part_offers_by_supplier ON part_offers (shop, supplier, sku);

CREATE TABLE offer_breaks (
    shop             TEXT    NOT NULL,
    part_id          TEXT    NOT NULL,
    offer_place      INTEGER NOT NULL,
    place            INTEGER NOT NULL CHECK (place >= 0),
    min_qty          INTEGER NOT NULL CHECK (min_qty >= 1),
    unit_price_micro INTEGER NOT NULL CHECK (unit_price_micro >= 0),
    PRIMARY KEY (shop, part_id, offer_place, place),
    FOREIGN KEY (shop, part_id, offer_place) REFERENCES part_offers (shop, part_id, place) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE TABLE amps (
    shop       TEXT    NOT NULL CHECK (shop <> ''),
    id         TEXT    NOT NULL CHECK (id <> ''),
    version    INTEGER NOT NULL CHECK (version >= 1),
    created_us INTEGER NOT NULL,
    changed_us INTEGER NOT NULL,
    name       TEXT    NOT NULL,
    document   TEXT    NOT NULL CHECK (json_valid(document)),
    PRIMARY KEY (shop, id)
) STRICT;

-- A plan outlives its amplifier, so amp_id is no foreign key; '' is an
-- amplifier that was never stored. The document is a BLOB: its bytes are the
-- answer that was given, and nothing may rewrite them.
CREATE TABLE plans (
    shop       TEXT    NOT NULL CHECK (shop <> ''),
    id         TEXT    NOT NULL CHECK (id <> ''),
    amp_id     TEXT    NOT NULL,
    amp_name   TEXT    NOT NULL,
    created_us INTEGER NOT NULL,
    document   BLOB    NOT NULL CHECK (length(document) > 0),
    PRIMARY KEY (shop, id)
) STRICT;

CREATE INDEX plans_by_amp ON plans (shop, amp_id, created_us, id);

-- One row that readiness writes to, so that a disk that takes no writes shows.
CREATE TABLE probe (
    one    INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    writes INTEGER NOT NULL
) STRICT;

INSERT INTO probe (one, writes) VALUES (1, 0);
