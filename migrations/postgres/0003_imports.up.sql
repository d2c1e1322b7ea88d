-- A catalogue of any size, fed from files: what was imported, what changed and
-- who changed it, and the other documents that a shop keeps.
-- sqlite/0003_imports says what each table is for.

ALTER TABLE part_offers
    ADD COLUMN price_micro bigint  CHECK (price_micro >= 0),
    ADD COLUMN cheapest    boolean NOT NULL DEFAULT false;

UPDATE part_offers AS o SET price_micro = coalesce(
    (SELECT (b.value ->> 1)::bigint FROM json_array_elements(o.breaks::json) WITH ORDINALITY AS b (value, place)
        WHERE (b.value ->> 0)::bigint <= o.min_qty ORDER BY b.place DESC LIMIT 1),
    (o.breaks::json -> 0 ->> 1)::bigint);

UPDATE part_offers AS o SET cheapest = true WHERE price_micro IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM part_offers AS x WHERE x.shop = o.shop AND x.part_id = o.part_id AND x.currency = o.currency
        AND (x.price_micro < o.price_micro OR x.price_micro = o.price_micro AND x.place < o.place));

ALTER TABLE part_offers ALTER COLUMN cheapest DROP DEFAULT;
CREATE INDEX part_offers_by_price ON part_offers (shop, currency, price_micro, part_id) WHERE cheapest;

CREATE INDEX parts_by_capacitance ON parts (shop, capacitance_uf, rated_v, id);
CREATE INDEX parts_by_rating ON parts (shop, rated_v, capacitance_uf, id);
CREATE INDEX parts_by_change ON parts (shop, changed_at, id);

-- seq is given by the server: two that change parts of one shop at once must
-- not wait for one another over a number.
CREATE TABLE part_changes (
    shop      text COLLATE "C" NOT NULL CHECK (shop <> ''),
    seq       bigint           NOT NULL GENERATED ALWAYS AS IDENTITY CHECK (seq >= 1),
    part_id   text COLLATE "C" NOT NULL,
    kind      text COLLATE "C" NOT NULL CHECK (kind IN ('created', 'replaced', 'deleted', 'restored', 'withdrawn')),
    version   bigint           NOT NULL CHECK (version >= 1),
    at        timestamptz      NOT NULL,
    actor     text COLLATE "C" NOT NULL,
    import_id text COLLATE "C" NOT NULL,
    line      bigint           NOT NULL CHECK (line >= 0),
    before    json,
    PRIMARY KEY (shop, seq)
);

CREATE INDEX part_changes_by_part ON part_changes (shop, part_id, seq);

CREATE TABLE imports (
    shop            text COLLATE "C" NOT NULL CHECK (shop <> ''),
    id              text COLLATE "C" NOT NULL CHECK (id <> ''),
    source          text COLLATE "C" NOT NULL,
    sha256          text COLLATE "C" NOT NULL,
    at              timestamptz      NOT NULL,
    actor           text COLLATE "C" NOT NULL,
    created_count   bigint           NOT NULL CHECK (created_count >= 0),
    changed_count   bigint           NOT NULL CHECK (changed_count >= 0),
    unchanged_count bigint           NOT NULL CHECK (unchanged_count >= 0),
    first_seq       bigint           NOT NULL,
    last_seq        bigint           NOT NULL,
    series          json             NOT NULL,
    findings        json             NOT NULL,
    undone_at       timestamptz,
    undone_by       text COLLATE "C" NOT NULL,
    PRIMARY KEY (shop, id)
);

CREATE INDEX imports_by_time ON imports (shop, at, id);

ALTER TABLE series
    ADD COLUMN version    bigint NOT NULL DEFAULT 1 CHECK (version >= 1),
    ADD COLUMN created_at timestamptz;
UPDATE series SET created_at = changed_at;
ALTER TABLE series ALTER COLUMN created_at SET NOT NULL;

CREATE TABLE documents (
    shop       text COLLATE "C" NOT NULL CHECK (shop <> ''),
    kind       text COLLATE "C" NOT NULL CHECK (kind <> ''),
    id         text COLLATE "C" NOT NULL CHECK (id <> ''),
    version    bigint           NOT NULL CHECK (version >= 1),
    created_at timestamptz      NOT NULL,
    changed_at timestamptz      NOT NULL,
    actor      text COLLATE "C" NOT NULL,
    about      text COLLATE "C" NOT NULL,
    body       json             NOT NULL,
    PRIMARY KEY (shop, kind, id)
);

CREATE INDEX documents_by_subject ON documents (shop, kind, about, id);

CREATE TABLE document_parts (
    shop        text COLLATE "C" NOT NULL,
    kind        text COLLATE "C" NOT NULL,
    document_id text COLLATE "C" NOT NULL,
    part_id     text COLLATE "C" NOT NULL,
    PRIMARY KEY (shop, kind, document_id, part_id),
    FOREIGN KEY (shop, kind, document_id) REFERENCES documents (shop, kind, id) ON DELETE CASCADE
);

CREATE INDEX document_parts_by_part ON document_parts (shop, part_id);

CREATE TABLE files (
    shop       text COLLATE "C" NOT NULL CHECK (shop <> ''),
    id         text COLLATE "C" NOT NULL CHECK (id <> ''),
    created_at timestamptz      NOT NULL,
    actor      text COLLATE "C" NOT NULL,
    name       text COLLATE "C" NOT NULL,
    media_type text COLLATE "C" NOT NULL,
    content    bytea            NOT NULL,
    PRIMARY KEY (shop, id)
);

CREATE TABLE claims (
    shop        text COLLATE "C" NOT NULL CHECK (shop <> ''),
    operation   text COLLATE "C" NOT NULL CHECK (operation <> ''),
    name        text COLLATE "C" NOT NULL CHECK (name <> ''),
    fingerprint text COLLATE "C" NOT NULL,
    expires_at  timestamptz      NOT NULL,
    answer      bytea,
    PRIMARY KEY (shop, operation, name)
);

CREATE INDEX claims_by_end ON claims (shop, expires_at);
