DROP TABLE midden.season_reports;
DROP FUNCTION midden.reports_stay();
