DROP TABLE midden.check_looks;
DROP TABLE midden.checks;
