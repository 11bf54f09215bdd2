-- The batch that a task takes its bedding from.
ALTER TABLE midden.plan_tasks ADD CONSTRAINT plan_tasks_bedding_fkey FOREIGN KEY (garden_id, bedding_batch_id)
    REFERENCES midden.bedding_batches (garden_id, batch_id);
