DROP TABLE midden.shift_claims;
DROP TABLE midden.shifts;
