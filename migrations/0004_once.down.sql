DROP FUNCTION midden.forget_once_keys(timestamptz);
DROP TABLE midden.once_keys;
