// Runs one SQL statement with DuckDB, in memory, and prints its rows as JSON.
// Usage: node duckdb.js SQL, with @duckdb/node-api on NODE_PATH.
const { DuckDBInstance } = require('@duckdb/node-api');

async function main(sql) {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  console.log(JSON.stringify((await connection.runAndReadAll(sql)).getRowObjectsJson()));
}

main(process.argv[2]).catch((err) => { console.error(err); process.exit(1); });
