DROP TABLE midden.issues;
