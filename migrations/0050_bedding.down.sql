DROP TABLE midden.bedding_looks;
DROP TABLE midden.bedding_batch_parts;
DROP TABLE midden.bedding_batches;
DROP TABLE midden.dry_bedding;
