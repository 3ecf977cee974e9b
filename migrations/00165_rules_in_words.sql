-- +goose Up
-- Rules are named by words. What was kept under their former names says the words from now on. An institution's choices
-- of severity stay as they were made, so that an older export comes out again byte for byte, and are read by the words.

-- +goose StatementBegin
create function rule_named(p_rule text) returns text language sql immutable as $$
  select case p_rule
    when 'L01' then 'solvent-reaches-earlier-layer'
    when 'L02' then 'same-resin-over-earlier-layer'
    when 'L03' then 'joint-may-be-starved'
    when 'L04' then 'top-coat-disturbs-base-coat'
    when 'L05' then 'reacting-resin-without-barrier'
    when 'L06' then 'barrier-not-tied-to-resin'
    when 'L07' then 'polar-treatment-over-wax'
    when 'L08' then 'ethyl-silicate-with-water-or-resin'
    when 'L09' then 'alkali-over-layer-it-breaks-down'
    when 'L10' then 'coating-over-cyclododecane'
    when 'L11' then 'dispersion-over-solvent-resin'
    when 'L12' then 'earlier-layer-unknown'
    when 'L13' then 'known-solvent-of-earlier-layer'
    when 'L15' then 'removal-promised-from-fresh-resin'
    when 'O1' then 'removal-below-another-layer'
    when 'O2' then 'removal-below-irreversible-layer'
    when 'O3' then 'water-for-removal-on-sensitive-body'
    when 'O4' then 'removal-without-support-or-number'
    when 'O5' then 'friable-body-without-replacement'
    when 'O6' then 'removal-record-incomplete'
    when 'O7' then 'label-removal-without-approval'
    when 'E1' then 'film-may-whiten'
    when 'E2' then 'warmer-than-evidence'
    when 'E3' then 'outside-working-climate'
    when 'E4' then 'touch-dry-is-not-dry'
    when 'E5' then 'fast-drying-draws-resin-up'
    when 'E6' then 'gloss-and-darkening'
    when 'E7' then 'harmful-solvent'
    when 'N1' then 'solvent-resin-on-damp-body'
    when 'N2' then 'sub-fossil-body-harmed'
    when 'N3' then 'sample-before-treatment'
    when 'N4' then 'material-not-for-fossils'
    when 'N5' then 'water-or-acid-harms-body'
    when 'N6' then 'acid-in-closed-case'
    when 'N7' then 'lime-on-carbonate-for-isotopes'
    when 'N8' then 'poor-label-coat'
    when 'N9' then 'solvent-near-labels-or-paint'
    when 'N10' then 'reacting-resin-on-bare-specimen'
    when 'N11' then 'thick-base-coat'
    when 'R01' then 'specimen-identity'
    when 'R02' then 'reason'
    when 'R03' then 'dates'
    when 'R04' then 'people'
    when 'R05' then 'areas'
    when 'R06' then 'action'
    when 'R07' then 'materials'
    when 'R08' then 'solvents'
    when 'R09' then 'strength-basis'
    when 'R10' then 'amounts'
    when 'R11' then 'application'
    when 'R12' then 'condition'
    when 'R13' then 'images'
    when 'R14' then 'consent'
    when 'R15' then 'approval'
    when 'R16' then 'certainty-of-words'
    when 'R17' then 'reversibility'
    when 'R18' then 'information-uncovered'
    when 'R19' then 'samples'
    when 'R20' then 'next-check'
    when 'R21' then 'record-copies'
    else p_rule end
$$;
-- +goose StatementEnd

update finding set rule = rule_named(rule) where rule <> rule_named(rule);

-- Schedules of the report on incomplete records ask by the words, and so do their times that are still to be made.
update report_schedule
   set body = regexp_replace(body, '("rule"\s*:\s*")R[0-9]{2}"',
                             '\1' || rule_named(substring(body from '"rule"\s*:\s*"(R[0-9]{2})"')) || '"')
 where body ~ '"rule"\s*:\s*"R[0-9]{2}"';
update report_schedule
   set query = regexp_replace(query, '\mrule=R[0-9]{2}\M', 'rule=' || rule_named(substring(query from '\mrule=(R[0-9]{2})\M')))
 where query ~ '\mrule=R[0-9]{2}\M';
update report_run
   set query = regexp_replace(query, '\mrule=R[0-9]{2}\M', 'rule=' || rule_named(substring(query from '\mrule=(R[0-9]{2})\M')))
 where query ~ '\mrule=R[0-9]{2}\M';
