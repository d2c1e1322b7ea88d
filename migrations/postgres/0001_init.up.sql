-- The first schema. Tables, columns and limits are those of sqlite/0001_init;
-- the rules there hold here too, with these differences:
--   * text is COLLATE "C": it compares by its bytes, as Go compares strings,
--     whatever the database's own collation.
--   * instants are timestamptz, and their columns end in _at.
--   * counts are bigint even where they stay small, so that both engines
--     refuse the same numbers.
--   * documents are json, not jsonb: what was written comes back as it was,
--     and nothing searches inside.
--   * an offer's price breaks stand in its own row, as a JSON list of
--     [quantity, millionths]: nothing searches for a break, and they are by far
--     the most numerous rows of a large catalogue.
-- Names carry no schema: the first of the search path is meant.

CREATE TABLE series (
    shop       text COLLATE "C" NOT NULL CHECK (shop <> ''),
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    document   json             NOT NULL,
    changed_at timestamptz      NOT NULL,
    PRIMARY KEY (shop, name)
);

CREATE TABLE parts (
    shop           text COLLATE "C" NOT NULL CHECK (shop <> ''),
    id             text COLLATE "C" NOT NULL CHECK (id <> ''),
    version        bigint           NOT NULL CHECK (version >= 1),
    created_at     timestamptz      NOT NULL,
    changed_at     timestamptz      NOT NULL,
    maker          text COLLATE "C" NOT NULL CHECK (maker <> ''),
    part_number    text COLLATE "C" NOT NULL CHECK (part_number <> ''),
    series         text COLLATE "C" NOT NULL,
    technology     text COLLATE "C" NOT NULL CHECK (technology IN ('electrolytic', 'film', 'safety_x', 'safety_y')),
    style          text COLLATE "C" NOT NULL CHECK (style IN ('axial', 'radial', 'snap_in', 'can', 'box', 'disc')),
    capacitance_uf double precision NOT NULL CHECK (capacitance_uf > 0 AND capacitance_uf < 1e9),
    further_count  bigint           NOT NULL CHECK (further_count >= 0),
    tol_minus_pct  double precision NOT NULL CHECK (tol_minus_pct >= 0 AND tol_minus_pct <= 100),
    tol_plus_pct   double precision NOT NULL CHECK (tol_plus_pct >= 0 AND tol_plus_pct < 1e6),
    rated_v        double precision NOT NULL CHECK (rated_v > 0 AND rated_v < 1e6),
    rated_v_ac     double precision CHECK (rated_v_ac > 0 AND rated_v_ac < 1e6),
    safety_class   text COLLATE "C" NOT NULL CHECK (safety_class IN ('', 'X1', 'X2', 'Y1', 'Y2')),
    surge_v        double precision CHECK (surge_v > 0 AND surge_v < 1e6),
    ripple_ma      double precision CHECK (ripple_ma >= 0 AND ripple_ma < 1e9),
    esr_ohm        double precision CHECK (esr_ohm >= 0 AND esr_ohm < 1e9),
    leakage_ua     double precision CHECK (leakage_ua >= 0 AND leakage_ua < 1e12),
    diameter_mm    double precision NOT NULL CHECK (diameter_mm > 0 AND diameter_mm < 1e4),
    length_mm      double precision NOT NULL CHECK (length_mm > 0 AND length_mm < 1e4),
    thickness_mm   double precision CHECK (thickness_mm > 0 AND thickness_mm < 1e4),
    lead_pitch_mm  double precision CHECK (lead_pitch_mm > 0 AND lead_pitch_mm < 1e4),
    note           text COLLATE "C" NOT NULL,
    stock          bigint           NOT NULL CHECK (stock >= 0),
    PRIMARY KEY (shop, id),
    UNIQUE (shop, maker, part_number),
    FOREIGN KEY (shop, series) REFERENCES series (shop, name)
);

CREATE INDEX parts_by_value ON parts (shop, technology, capacitance_uf, rated_v);
CREATE INDEX parts_by_series ON parts (shop, series);

CREATE TABLE part_sections (
    shop           text COLLATE "C" NOT NULL,
    part_id        text COLLATE "C" NOT NULL,
    place          bigint           NOT NULL CHECK (place >= 0),
    capacitance_uf double precision NOT NULL CHECK (capacitance_uf > 0 AND capacitance_uf < 1e9),
    PRIMARY KEY (shop, part_id, place),
    FOREIGN KEY (shop, part_id) REFERENCES parts (shop, id) ON DELETE CASCADE
);

CREATE INDEX part_sections_by_value ON part_sections (shop, capacitance_uf);

CREATE TABLE part_offers (
    shop      text COLLATE "C" NOT NULL,
    part_id   text COLLATE "C" NOT NULL,
    place     bigint           NOT NULL CHECK (place >= 0),
    supplier  text COLLATE "C" NOT NULL,
    sku       text COLLATE "C" NOT NULL,
    currency  text COLLATE "C" NOT NULL,
    pack      bigint           NOT NULL CHECK (pack >= 1),
    min_qty   bigint           NOT NULL CHECK (min_qty >= 1),
    stock     bigint           NOT NULL CHECK (stock >= 0),
    lead_days bigint           NOT NULL CHECK (lead_days >= 0),
    preferred boolean          NOT NULL,
    breaks    text COLLATE "C" NOT NULL CHECK (breaks <> ''),
    PRIMARY KEY (shop, part_id, place),
    FOREIGN KEY (shop, part_id) REFERENCES parts (shop, id) ON DELETE CASCADE
);

CREATE INDEX part_offers_by_supplier ON part_offers (shop, supplier, sku);

CREATE TABLE amps (
    shop       text COLLATE "C" NOT NULL CHECK (shop <> ''),
    id         text COLLATE "C" NOT NULL CHECK (id <> ''),
    version    bigint           NOT NULL CHECK (version >= 1),
    created_at timestamptz      NOT NULL,
    changed_at timestamptz      NOT NULL,
    name       text COLLATE "C" NOT NULL,
    document   json             NOT NULL,
    PRIMARY KEY (shop, id)
);

CREATE TABLE plans (
    shop       text COLLATE "C" NOT NULL CHECK (shop <> ''),
    id         text COLLATE "C" NOT NULL CHECK (id <> ''),
    amp_id     text COLLATE "C" NOT NULL,
    amp_name   text COLLATE "C" NOT NULL,
    created_at timestamptz      NOT NULL,
    document   bytea            NOT NULL CHECK (length(document) > 0),
    PRIMARY KEY (shop, id)
);

CREATE INDEX plans_by_amp ON plans (shop, amp_id, created_at, id);

CREATE TABLE probe (
    one    bigint NOT NULL PRIMARY KEY CHECK (one = 1),
    writes bigint NOT NULL
);

INSERT INTO probe (one, writes) VALUES (1, 0);
