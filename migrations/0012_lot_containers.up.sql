-- Which of the garden's containers a lot was counted or weighed in.
ALTER TABLE midden.lots
    ADD COLUMN container_id uuid,
    ADD CONSTRAINT lots_container_fkey FOREIGN KEY (garden_id, container_id)
        REFERENCES midden.containers (garden_id, container_id);
