DROP TABLE midden.sections;
DROP TABLE midden.bin_keepers;
DROP TABLE midden.bins;
