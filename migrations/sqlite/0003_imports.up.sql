-- A catalogue of any size, fed from files: what was imported, what changed and
-- who changed it, and the other documents that a shop keeps.

-- An offer's price breaks come into its row, as a JSON list of
-- [quantity, millionths]: nothing searches for a break, and of a large
-- catalogue they were two rows of three. Two columns serve the order by price:
-- the price of one piece at the offer's least quantity, and whether no other
-- offer of the part in its currency, nor an equal one before it, asks less.
CREATE TABLE part_offers_next (
    shop        TEXT    NOT NULL,
    part_id     TEXT    NOT NULL,
    place       INTEGER NOT NULL CHECK (place >= 0),
    supplier    TEXT    NOT NULL,
    sku         TEXT    NOT NULL,
    currency    TEXT    NOT NULL,
    pack        INTEGER NOT NULL CHECK (pack >= 1),
    min_qty     INTEGER NOT NULL CHECK (min_qty >= 1),
    stock       INTEGER NOT NULL CHECK (stock >= 0),
    lead_days   INTEGER NOT NULL CHECK (lead_days >= 0),
    preferred   INTEGER NOT NULL CHECK (preferred IN (0, 1)),
    breaks      TEXT    NOT NULL CHECK (json_valid(breaks)),
    price_micro INTEGER CHECK (price_micro >= 0),
    cheapest    INTEGER NOT NULL CHECK (cheapest IN (0, 1)),
    PRIMARY KEY (shop, part_id, place),
    FOREIGN KEY (shop, part_id) REFERENCES parts (shop, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

INSERT INTO part_offers_next (shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred, breaks, price_micro, cheapest)
SELECT shop, part_id, place, supplier, sku, currency, pack, min_qty, stock, lead_days, preferred,
    (SELECT '[' || coalesce(group_concat('[' || b.min_qty || ',' || b.unit_price_micro || ']', ',' ORDER BY b.place), '') || ']' FROM offer_breaks AS b
        WHERE b.shop = o.shop AND b.part_id = o.part_id AND b.offer_place = o.place),
    coalesce(
        (SELECT b.unit_price_micro FROM offer_breaks AS b WHERE b.shop = o.shop AND b.part_id = o.part_id AND b.offer_place = o.place
            AND b.min_qty <= o.min_qty ORDER BY b.place DESC LIMIT 1),
        (SELECT b.unit_price_micro FROM offer_breaks AS b WHERE b.shop = o.shop AND b.part_id = o.part_id AND b.offer_place = o.place
            ORDER BY b.place LIMIT 1)),
    0
FROM part_offers AS o;

UPDATE part_offers_next AS o SET cheapest = 1 WHERE price_micro IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM part_offers_next AS x WHERE x.shop = o.shop AND x.part_id = o.part_id AND x.currency = o.currency
        AND (x.price_micro < o.price_micro OR x.price_micro = o.price_micro AND x.place < o.place));

DROP TABLE offer_breaks;
DROP TABLE part_offers;
ALTER TABLE part_offers_next RENAME TO part_offers;
CREATE INDEX part_offers_by_supplier ON part_offers (shop, supplier, sku);
CREATE INDEX part_offers_by_price ON part_offers (shop, currency, price_micro, part_id) WHERE cheapest = 1;

-- The orders in which parts are listed, beside that by maker and number.
CREATE INDEX parts_by_capacitance ON parts (shop, capacitance_uf, rated_v, id);
CREATE INDEX parts_by_rating ON parts (shop, rated_v, capacitance_uf, id);
CREATE INDEX parts_by_change ON parts (shop, changed_us, id);

-- Every change of a part, in the order of seq: what it was before, by whom and
-- from which import. A creation has nothing before it, so an import of new
-- parts stays small. The rows outlive their parts. This is the record of an
-- import's rows too: line is the line of its file.
CREATE TABLE part_changes (
    shop      TEXT    NOT NULL CHECK (shop <> ''),
    seq       INTEGER NOT NULL CHECK (seq >= 1),
    part_id   TEXT    NOT NULL,
    kind      TEXT    NOT NULL CHECK (kind IN ('created', 'replaced', 'deleted', 'restored', 'withdrawn')),
    version   INTEGER NOT NULL CHECK (version >= 1),
    at_us     INTEGER NOT NULL,
    actor     TEXT    NOT NULL,
    import_id TEXT    NOT NULL,
    line      INTEGER NOT NULL CHECK (line >= 0),
    before    TEXT    CHECK (json_valid(before)),
    PRIMARY KEY (shop, seq)
) STRICT, WITHOUT ROWID;

CREATE INDEX part_changes_by_part ON part_changes (shop, part_id, seq);

-- first_seq and last_seq bound the changes of an import, its withdrawal aside.
CREATE TABLE imports (
    shop            TEXT    NOT NULL CHECK (shop <> ''),
    id              TEXT    NOT NULL CHECK (id <> ''),
    source          TEXT    NOT NULL,
    sha256          TEXT    NOT NULL,
    at_us           INTEGER NOT NULL,
    actor           TEXT    NOT NULL,
    created_count   INTEGER NOT NULL CHECK (created_count >= 0),
    changed_count   INTEGER NOT NULL CHECK (changed_count >= 0),
    unchanged_count INTEGER NOT NULL CHECK (unchanged_count >= 0),
    first_seq       INTEGER NOT NULL,
    last_seq        INTEGER NOT NULL,
    series          TEXT    NOT NULL CHECK (json_valid(series)),
    findings        TEXT    NOT NULL CHECK (json_valid(findings)),
    undone_us       INTEGER,
    undone_by       TEXT    NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

CREATE INDEX imports_by_time ON imports (shop, at_us, id);

-- A series has a version, as everything that is replaced.
ALTER TABLE series ADD COLUMN version INTEGER NOT NULL DEFAULT 1 CHECK (version >= 1);
ALTER TABLE series ADD COLUMN created_us INTEGER NOT NULL DEFAULT 0;
UPDATE series SET created_us = changed_us;

-- Documents that are read whole and seldom searched, of a closed set of kinds
-- that repo holds; about is the id of what a document is about.
CREATE TABLE documents (
    shop       TEXT    NOT NULL CHECK (shop <> ''),
    kind       TEXT    NOT NULL CHECK (kind <> ''),
    id         TEXT    NOT NULL CHECK (id <> ''),
    version    INTEGER NOT NULL CHECK (version >= 1),
    created_us INTEGER NOT NULL,
    changed_us INTEGER NOT NULL,
    actor      TEXT    NOT NULL,
    about      TEXT    NOT NULL,
    body       TEXT    NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (shop, kind, id)
) STRICT;

CREATE INDEX documents_by_subject ON documents (shop, kind, about, id);

-- The parts a document rests on.
CREATE TABLE document_parts (
    shop        TEXT NOT NULL,
    kind        TEXT NOT NULL,
    document_id TEXT NOT NULL,
    part_id     TEXT NOT NULL,
    PRIMARY KEY (shop, kind, document_id, part_id),
    FOREIGN KEY (shop, kind, document_id) REFERENCES documents (shop, kind, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE INDEX document_parts_by_part ON document_parts (shop, part_id);

CREATE TABLE files (
    shop       TEXT    NOT NULL CHECK (shop <> ''),
    id         TEXT    NOT NULL CHECK (id <> ''),
    created_us INTEGER NOT NULL,
    actor      TEXT    NOT NULL,
    name       TEXT    NOT NULL,
    media_type TEXT    NOT NULL,
    content    BLOB    NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

-- What was answered to a request that may come again. The row is written with
-- the effect; answer is NULL until the effect is known, within a transaction.
CREATE TABLE claims (
    shop        TEXT    NOT NULL CHECK (shop <> ''),
    operation   TEXT    NOT NULL CHECK (operation <> ''),
    name        TEXT    NOT NULL CHECK (name <> ''),
    fingerprint TEXT    NOT NULL,
    expires_us  INTEGER NOT NULL,
    answer      BLOB,
    PRIMARY KEY (shop, operation, name)
) STRICT;

CREATE INDEX claims_by_end ON claims (shop, expires_us);
