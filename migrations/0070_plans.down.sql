DROP TABLE midden.plan_tasks;
DROP TABLE midden.plans;
