-- +goose Up
-- A plan that was received is not authorised by what the sender says: only this
-- institution authorises here. The words stay as they came.
update plan p set authorised = false
  from entry e
 where p.authorised and e.institution_id = p.institution_id and e.record_id = p.id and e.revision = p.revision
   and e.body ^@ '{"receivedFrom":';
-- Findings that counted such an authorisation are worked out again.
delete from layers_cursor;
