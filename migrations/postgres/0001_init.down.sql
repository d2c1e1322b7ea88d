DROP TABLE probe;
DROP TABLE plans;
DROP TABLE amps;
DROP TABLE part_offers;
DROP TABLE part_sections;
DROP TABLE parts;
DROP TABLE series;
