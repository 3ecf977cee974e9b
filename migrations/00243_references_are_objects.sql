-- +goose Up
-- What is kept as JSON refers to a record as its API does: {"id": …}. A kept layer names the
-- treatments of its evidence, and a schedule its webhooks and specimens, in lists.
update layer_state set body = regexp_replace(body, '"treatment":("[0-9a-f-]{36}")', '"treatment":{"id":\1}', 'g')
where body like '%"treatment":"%';
update report_schedule set body = regexp_replace(body, '("[0-9a-f-]{36}")(?=[^][]*])', '{"id":\1}', 'g');
