DROP TABLE midden.worm_transfers;
