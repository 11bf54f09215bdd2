DROP FUNCTION midden.account();
DROP FUNCTION midden.garden();
DROP SCHEMA midden;
