DROP FUNCTION midden.forget_once_keys(timestamptz);
DROP FUNCTION midden.claim_once(text, text);
DROP TABLE midden.once_keys;
