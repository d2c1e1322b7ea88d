-- The record of imports, changes, documents, files and claims goes: the schema
-- before has no place for it. Parts, series and offers stay as they are.
DROP TABLE claims;
DROP TABLE files;
DROP TABLE document_parts;
DROP TABLE documents;
DROP TABLE imports;
DROP TABLE part_changes;
ALTER TABLE series DROP COLUMN created_at, DROP COLUMN version;
DROP INDEX parts_by_change;
DROP INDEX parts_by_rating;
DROP INDEX parts_by_capacitance;
DROP INDEX part_offers_by_price;
ALTER TABLE part_offers DROP COLUMN cheapest, DROP COLUMN price_micro;
