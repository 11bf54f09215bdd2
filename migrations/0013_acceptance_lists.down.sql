DROP TABLE midden.acceptance_lists;
