-- A feeding may cite the task that it does: one for the bin that was fed.
ALTER TABLE midden.plan_tasks ADD CONSTRAINT plan_tasks_of_bin UNIQUE (garden_id, task_id, bin_id);
ALTER TABLE midden.feedings ADD CONSTRAINT feedings_plan_task_fkey FOREIGN KEY (garden_id, plan_task_id, bin_id)
    REFERENCES midden.plan_tasks (garden_id, task_id, bin_id);
CREATE INDEX feedings_by_plan_task ON midden.feedings (garden_id, plan_task_id) WHERE plan_task_id IS NOT NULL;
