-- The record of imports, changes, documents, files and claims goes: the schema
-- before has no place for it. Parts, series and offers stay as they are.
DROP TABLE claims;
DROP TABLE files;
DROP TABLE document_parts;
DROP TABLE documents;
DROP TABLE imports;
DROP TABLE part_changes;

ALTER TABLE series DROP COLUMN created_us;
ALTER TABLE series DROP COLUMN version;

DROP INDEX parts_by_change;
DROP INDEX parts_by_rating;
DROP INDEX parts_by_capacitance;

CREATE TABLE part_offers_before (
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

INSERT INTO part_offers_before (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred)
SELECT shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred FROM part_offers;

CREATE TABLE aside_breaks AS
SELECT o.shop, o.part_id, o.place AS offer_place, b.key AS place, b.value ->> 0 AS min_qty, b.value ->> 1 AS unit_price_micro
FROM part_offers AS o, json_each(o.breaks) AS b;

DROP TABLE part_offers;
ALTER TABLE part_offers_before RENAME TO part_offers;
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

INSERT INTO offer_breaks SELECT * FROM aside_breaks;
DROP TABLE aside_breaks;
