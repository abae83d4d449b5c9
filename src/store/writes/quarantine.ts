import type { Applier } from './context.js';

const INSERT = `INSERT INTO quarantine
  (id, received_ms, source, node_id, refusal, detail, raw, content_type, record_index, resolved_ms)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING`;

/** The log gets one line a node, or a source where no node is known: a file's rows share one. */
export const quarantined: Applier<'quarantined'> = ({ sql, lines }, { kind, rows }) => {
  for (const row of rows) {
    const added = sql.run(
      INSERT,
      row.id,
      row.receivedMs,
      row.source,
      row.nodeId,
      row.refusal,
      row.detail,
      row.raw,
      row.contentType,
      row.recordIndex,
      row.resolvedMs,
    );
    if (added === 0) continue;
    const key = row.nodeId ?? row.source.replace(/^(file:.*):\d+$/, '$1');
    lines.add(kind, key, { fromMs: row.receivedMs, toMs: row.receivedMs });
  }
};

export const quarantineResolved: Applier<'quarantine_resolved'> = ({ sql, lines }, { kind, id, atMs }) => {
  const changed = sql.run('UPDATE quarantine SET resolved_ms = ? WHERE id = ? AND resolved_ms IS NULL', atMs, id);
  if (changed > 0) lines.add(kind, id);
};
