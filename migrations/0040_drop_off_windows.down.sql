DROP TABLE midden.drop_off_windows;
