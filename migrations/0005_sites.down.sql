DROP TABLE midden.garden_materials;
DROP TABLE midden.overflow_places;
ALTER TABLE midden.postings DROP CONSTRAINT postings_site_fkey;
DROP TABLE midden.sites;
