DROP TABLE midden.giveaways;
