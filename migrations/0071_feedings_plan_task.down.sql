DROP INDEX midden.feedings_by_plan_task;
ALTER TABLE midden.feedings DROP CONSTRAINT feedings_plan_task_fkey;
ALTER TABLE midden.plan_tasks DROP CONSTRAINT plan_tasks_of_bin;
