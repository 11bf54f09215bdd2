DROP FUNCTION midden.forget_household_answers(uuid);
DROP INDEX midden.once_keys_of_households;
