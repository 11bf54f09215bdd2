ALTER TABLE midden.plan_tasks DROP CONSTRAINT plan_tasks_pledge_fkey;
