// Reads a corpus in place with DuckDB and prints counts and sums as JSON.
// Usage: node query.js DIR, with @duckdb/node-api on NODE_PATH.
const { DuckDBInstance } = require('@duckdb/node-api');

const queries = {
  samples: `
    SELECT rig, session, count(*)::INTEGER AS n, sum(t_ns)::VARCHAR AS t_ns, sum(t_raw)::VARCHAR AS t_raw,
           max(segment) AS segment, sum(ax_mps2::DOUBLE) AS ax, sum(ay_mps2::DOUBLE) AS ay, sum(az_mps2::DOUBLE) AS az,
           count(gx_radps)::INTEGER AS gyro, coalesce(sum(gx_radps::DOUBLE), 0) AS gx,
           coalesce(sum(gy_radps::DOUBLE), 0) AS gy, coalesce(sum(gz_radps::DOUBLE), 0) AS gz
    FROM T GROUP BY ALL ORDER BY session`,
  sessions: `
    SELECT rig, session, samples::INTEGER AS samples, has_gyro, rate_hz, json_extract_string(repairs, '$[0].kind') AS repair
    FROM T ORDER BY session`,
  windows: `
    SELECT session, count(*)::INTEGER AS n, sum(number)::INTEGER AS number, sum(onset_ns)::VARCHAR AS onset_ns,
           sum(onset_s) AS onset_s, sum(peak_mps2) AS peak, count(*) FILTER (clipped)::INTEGER AS clipped
    FROM T GROUP BY ALL ORDER BY session`,
  features: `
    SELECT session, count(kick_x)::INTEGER AS kick_x, count(kick_y)::INTEGER AS kick_y, sum(rise_ms) AS rise_ms
    FROM T GROUP BY ALL ORDER BY session`,
  labels: `
    SELECT session, count(*)::INTEGER AS n, count(face)::INTEGER AS faces, sum(face)::INTEGER AS face,
           sum(bearing_deg) AS bearing, sum(height_m) AS height, count(*) FILTER (not_strike)::INTEGER AS not_strike,
           count(note)::INTEGER AS notes, count(*) FILTER (preferred)::INTEGER AS preferred
    FROM T GROUP BY ALL ORDER BY session`,
};

async function main(dir) {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const out = {};
  for (const [table, sql] of Object.entries(queries)) {
    const from = `read_parquet('${dir.replaceAll("'", "''")}/${table}/**/*.parquet', hive_partitioning=true, union_by_name=true)`;
    out[table] = (await connection.runAndReadAll(sql.replace('FROM T', 'FROM ' + from))).getRowObjects();
  }
  // Row groups must be skipped by their time statistics: ask for the pages' bounds.
  const meta = await connection.runAndReadAll(`
    SELECT count(DISTINCT row_group_id)::INTEGER AS groups, count(stats_min_value)::INTEGER AS bounds
    FROM parquet_metadata('${dir.replaceAll("'", "''")}/samples/**/*.parquet') WHERE path_in_schema = 't_ns'`);
  out.meta = meta.getRowObjects();
  console.log(JSON.stringify(out));
}

main(process.argv[2]).catch((err) => { console.error(err); process.exit(1); });
