-- The pledge that a task reckons with.
ALTER TABLE midden.plan_tasks ADD CONSTRAINT plan_tasks_pledge_fkey FOREIGN KEY (garden_id, pledge_id)
    REFERENCES midden.pledges (garden_id, pledge_id);
