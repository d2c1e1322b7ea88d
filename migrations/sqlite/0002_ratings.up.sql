-- A part may now lack its series, tolerance and size, and may give ratings of
-- its own in place of its series'. A part that lacks a figure is kept and is
-- not picked, where the schema before refused it.
--
-- The part's own ratings are one JSON document, ratings: temperature class,
-- tables, life, leakage law and storage. They have a shape of their own within
-- (tables, a life model's constants), nothing searches by them, they are read
-- and written whole, and most parts have none: NULL then. The document is the
-- only copy, so none can disagree with it. What lists show and imports touch,
-- tolerance and size, stays in columns.
--
-- SQLite cannot take NOT NULL off a column, so the table is made again. A
-- binary of the version before refuses a newer file, so none reads the NULLs.

CREATE TABLE parts_next (
    shop           TEXT    NOT NULL CHECK (shop <> ''),
    id             TEXT    NOT NULL CHECK (id <> ''),
    version        INTEGER NOT NULL CHECK (version >= 1),
    created_us     INTEGER NOT NULL,
    changed_us     INTEGER NOT NULL,
    maker          TEXT    NOT NULL CHECK (maker <> ''),
    part_number    TEXT    NOT NULL CHECK (part_number <> ''),
    -- NULL where a part stands by its own figures.
    series         TEXT    CHECK (series <> ''),
    technology     TEXT    NOT NULL CHECK (technology IN ('electrolytic', 'film', 'safety_x', 'safety_y')),
    style          TEXT    NOT NULL CHECK (style IN ('axial', 'radial', 'snap_in', 'can', 'box', 'disc')),
    -- Of the first section; further ones are in part_sections, and
    -- further_count spares the look for those that nearly no part has.
    capacitance_uf REAL    NOT NULL CHECK (capacitance_uf > 0 AND capacitance_uf < 1e9),
    further_count  INTEGER NOT NULL CHECK (further_count >= 0),
    tol_minus_pct  REAL    CHECK (tol_minus_pct >= 0 AND tol_minus_pct <= 100),
    tol_plus_pct   REAL    CHECK (tol_plus_pct >= 0 AND tol_plus_pct < 1e6),
    rated_v        REAL    NOT NULL CHECK (rated_v > 0 AND rated_v < 1e6),
    rated_v_ac     REAL    CHECK (rated_v_ac > 0 AND rated_v_ac < 1e6),
    safety_class   TEXT    NOT NULL CHECK (safety_class IN ('', 'X1', 'X2', 'Y1', 'Y2')),
    surge_v        REAL    CHECK (surge_v > 0 AND surge_v < 1e6),
    ripple_ma      REAL    CHECK (ripple_ma >= 0 AND ripple_ma < 1e9),
    esr_ohm        REAL    CHECK (esr_ohm >= 0 AND esr_ohm < 1e9),
    leakage_ua     REAL    CHECK (leakage_ua >= 0 AND leakage_ua < 1e12),
    leakage_min    REAL    CHECK (leakage_min > 0 AND leakage_min < 1e6),
    ratings        TEXT    CHECK (json_valid(ratings)),
    diameter_mm    REAL    CHECK (diameter_mm > 0 AND diameter_mm < 1e4),
    length_mm      REAL    CHECK (length_mm > 0 AND length_mm < 1e4),
    thickness_mm   REAL    CHECK (thickness_mm > 0 AND thickness_mm < 1e4),
    lead_pitch_mm  REAL    CHECK (lead_pitch_mm > 0 AND lead_pitch_mm < 1e4),
    note           TEXT    NOT NULL,
    -- The sum over the part's offers, kept in the transaction that writes them.
    stock          INTEGER NOT NULL CHECK (stock >= 0),
    PRIMARY KEY (shop, id),
    UNIQUE (shop, maker, part_number),
    FOREIGN KEY (shop, series) REFERENCES series (shop, name)
) STRICT;

INSERT INTO parts_next (shop, id, version, created_us, changed_us, maker, part_number, series, technology, style, capacitance_uf, further_count,
    tol_minus_pct, tol_plus_pct, rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua,
    diameter_mm, length_mm, thickness_mm, lead_pitch_mm, note, stock)
SELECT shop, id, version, created_us, changed_us, maker, part_number, series, technology, style, capacitance_uf, further_count,
    tol_minus_pct, tol_plus_pct, rated_v, rated_v_ac, safety_class, surge_v, ripple_ma, esr_ohm, leakage_ua,
    diameter_mm, length_mm, thickness_mm, lead_pitch_mm, note, stock FROM parts;

-- Dropping a table empties it first, and that would empty its children too:
-- foreign_keys cannot be switched off inside a transaction. So the children's
-- rows stand aside meanwhile.
CREATE TABLE aside_sections AS SELECT * FROM part_sections;
CREATE TABLE aside_offers AS SELECT * FROM part_offers;
CREATE TABLE aside_breaks AS SELECT * FROM offer_breaks;
DELETE FROM offer_breaks;
DELETE FROM part_offers;
DELETE FROM part_sections;

DROP TABLE parts;
ALTER TABLE parts_next RENAME TO parts;
CREATE INDEX parts_by_value ON parts (shop, technology, capacitance_uf, rated_v);
CREATE INDEX parts_by_series ON parts (shop, series);

INSERT INTO part_sections SELECT * FROM aside_sections;
INSERT INTO part_offers SELECT * FROM aside_offers;
INSERT INTO offer_breaks SELECT * FROM aside_breaks;

DROP TABLE aside_breaks;
DROP TABLE aside_offers;
DROP TABLE aside_sections;
