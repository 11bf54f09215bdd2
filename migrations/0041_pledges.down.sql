DROP TABLE midden.pledges;
