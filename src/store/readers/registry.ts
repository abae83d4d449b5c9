import type { Page, PageRequest, RegistryReader } from '../../domain/ports/store.js';
import type {
  Account,
  Assignment,
  Container,
  Depot,
  Gateway,
  Person,
  SensorNode,
  Site,
  Truck,
} from '../../domain/registry.js';
import { CONTAINER_COLUMNS, SITE_COLUMNS } from '../columns.js';
import { parseJson, plantsJson, strappingJson } from '../json.js';
import { decodeCursor, pageOf, rowsToRead } from '../paging.js';
import { type Sql, selectList } from '../sql.js';
import { ASSIGNMENT_COLUMNS } from '../writes/registry.js';
import { accountOf, IN_SCOPE, type ReadContext } from './context.js';
import { allPeople } from './people.js';

const SITE = selectList(['id', ...SITE_COLUMNS], 's');
const CONTAINER = selectList(['id', ...CONTAINER_COLUMNS], 'c');
const ASSIGNMENT = selectList(ASSIGNMENT_COLUMNS, 'a');
const NODE = selectList(['id', 'gateway_id', 'promised_interval_s'], 'n');

type SiteRow = Omit<Site, 'tap'> & { readonly tap: number };

interface ContainerRow {
  readonly id: string;
  readonly siteId: string;
  readonly name: string;
  readonly place: string | null;
  readonly covered: number;
  readonly installedOn: string;
  readonly removedOn: string | null;
  readonly strappingJson: string;
  readonly overflowMm: number;
  readonly wickFootMm: number;
  readonly soilLitres: number | null;
  readonly soilSurfaceM2: number | null;
  readonly potKg: number | null;
  readonly plantsJson: string;
}

const toSite = (row: SiteRow): Site => ({ ...row, tap: row.tap === 1 });

function toContainer(row: ContainerRow): Container {
  const place = { table: 'container', key: row.id };
  const { soilLitres, soilSurfaceM2 } = row;
  return {
    id: row.id,
    siteId: row.siteId,
    name: row.name,
    place: row.place,
    covered: row.covered === 1,
    installedOn: row.installedOn,
    removedOn: row.removedOn,
    reservoir: {
      strapping: parseJson(strappingJson, row.strappingJson, { ...place, column: 'strapping_json' }),
      overflowMm: row.overflowMm,
      wickFootMm: row.wickFootMm,
    },
    soil: soilLitres === null || soilSurfaceM2 === null ? null : { litres: soilLitres, surfaceM2: soilSurfaceM2 },
    potKg: row.potKg,
    plants: parseJson(plantsJson, row.plantsJson, { ...place, column: 'plants_json' }),
  };
}

export function registryReader({ read }: ReadContext): RegistryReader {
  return {
    accounts: (scope) => read((sql) => accounts(sql, accountOf(scope))),
    sites: (scope) => read((sql) => sites(sql, accountOf(scope))),
    site: (scope, id) =>
      read((sql) => {
        const row = sql.get<SiteRow>(`SELECT ${SITE} FROM site s WHERE s.id = @id AND ${IN_SCOPE}`, {
          account: accountOf(scope),
          id,
        });
        return row === undefined ? null : toSite(row);
      }),
    containers: (scope) => read((sql) => containers(sql, accountOf(scope))),
    containersPage: (scope, page, filter) => read((sql) => containersPage(sql, accountOf(scope), page, filter)),
    container: (scope, id) =>
      read((sql) => {
        const row = sql.get<ContainerRow>(
          `SELECT ${CONTAINER} FROM container c JOIN site s ON s.id = c.site_id WHERE c.id = @id AND ${IN_SCOPE}`,
          { account: accountOf(scope), id },
        );
        return row === undefined ? null : toContainer(row);
      }),
    gateways: (scope) => read((sql) => gateways(sql, accountOf(scope))),
    nodes: (scope) => read((sql) => nodes(sql, accountOf(scope))),
    node: (id) => read((sql) => sql.get<SensorNode>(`SELECT ${NODE} FROM node n WHERE n.id = ?`, id) ?? null),
    assignments: (scope) => read((sql) => assignments(sql, accountOf(scope))),
    assignmentsOfContainer: (scope, id) =>
      read((sql) =>
        sql.all<Assignment>(
          `SELECT ${ASSIGNMENT} FROM assignment a
           JOIN container c ON c.id = a.container_id JOIN site s ON s.id = c.site_id
           WHERE a.container_id = @id AND ${IN_SCOPE} ORDER BY a.from_ms, a.id`,
          { account: accountOf(scope), id },
        ),
      ),
    assignmentsOfNode: (id) =>
      read((sql) =>
        sql.all<Assignment>(`SELECT ${ASSIGNMENT} FROM assignment a WHERE a.node_id = ? ORDER BY a.from_ms, a.id`, id),
      ),
    depots: () => read(depots),
    trucks: () => read(trucks),
    fleet: () =>
      read((sql) => ({
        accounts: accounts(sql, null),
        sites: sites(sql, null),
        containers: containers(sql, null),
        gateways: gateways(sql, null),
        nodes: nodes(sql, null),
        assignments: assignments(sql, null),
        depots: depots(sql),
        trucks: trucks(sql),
        people: allPeople(sql) as readonly Person[],
      })),
  };
}

const accounts = (sql: Sql, accountId: string | null): Account[] =>
  sql.all<Account>(
    'SELECT id, name, dry_risk AS "dryRisk" FROM account WHERE @account IS NULL OR id = @account ORDER BY id',
    { account: accountId },
  );

const sites = (sql: Sql, accountId: string | null): Site[] =>
  sql.all<SiteRow>(`SELECT ${SITE} FROM site s WHERE ${IN_SCOPE} ORDER BY s.id`, { account: accountId }).map(toSite);

const containers = (sql: Sql, accountId: string | null): Container[] =>
  sql
    .all<ContainerRow>(
      `SELECT ${CONTAINER} FROM container c JOIN site s ON s.id = c.site_id WHERE ${IN_SCOPE} ORDER BY c.id`,
      { account: accountId },
    )
    .map(toContainer);

function containersPage(
  sql: Sql,
  accountId: string | null,
  page: PageRequest,
  filter: { readonly text: string | null; readonly siteId: string | null; readonly accountId: string | null },
): Page<Container> {
  const after = decodeCursor(page, ['string', 'string']);
  const pattern = filter.text === null || filter.text === '' ? null : `%${filter.text.replace(/[\\%_]/g, '\\$&')}%`;
  const rows = sql.all<ContainerRow>(
    `SELECT ${CONTAINER} FROM container c JOIN site s ON s.id = c.site_id JOIN account o ON o.id = s.account_id
     WHERE ${IN_SCOPE}
       AND (@ofAccount IS NULL OR s.account_id = @ofAccount) AND (@siteId IS NULL OR c.site_id = @siteId)
       AND (@pattern IS NULL OR c.id LIKE @pattern ESCAPE '\\' OR c.name LIKE @pattern ESCAPE '\\' OR c.place LIKE @pattern ESCAPE '\\'
         OR s.name LIKE @pattern ESCAPE '\\' OR o.name LIKE @pattern ESCAPE '\\')
       AND (@afterName IS NULL OR (c.name COLLATE NOCASE, c.id) > (@afterName, @afterId))
     ORDER BY c.name COLLATE NOCASE, c.id LIMIT @limit`,
    {
      account: accountId,
      ofAccount: filter.accountId,
      siteId: filter.siteId,
      pattern,
      afterName: after?.[0] ?? null,
      afterId: after?.[1] ?? null,
      limit: rowsToRead(page),
    },
  );
  const { rows: shown, nextCursor } = pageOf(rows, page, (row) => [row.name, row.id]);
  return { rows: shown.map(toContainer), nextCursor };
}

const gateways = (sql: Sql, accountId: string | null): Gateway[] =>
  sql.all<Gateway>(
    `SELECT g.id, g.site_id AS "siteId", g.name FROM gateway g JOIN site s ON s.id = g.site_id
     WHERE ${IN_SCOPE} ORDER BY g.id`,
    { account: accountId },
  );

/** A node belongs to the account whose container it measures or measured last; unassigned, to that of its gateway. */
const nodes = (sql: Sql, accountId: string | null): SensorNode[] =>
  sql.all<SensorNode>(
    `SELECT ${NODE} FROM node n
     WHERE @account IS NULL OR @account = coalesce(
       (SELECT s.account_id FROM assignment a
          JOIN container c ON c.id = a.container_id JOIN site s ON s.id = c.site_id
        WHERE a.node_id = n.id ORDER BY a.from_ms DESC LIMIT 1),
       (SELECT s.account_id FROM gateway g JOIN site s ON s.id = g.site_id WHERE g.id = n.gateway_id))
     ORDER BY n.id`,
    { account: accountId },
  );

const assignments = (sql: Sql, accountId: string | null): Assignment[] =>
  sql.all<Assignment>(
    `SELECT ${ASSIGNMENT} FROM assignment a
     JOIN container c ON c.id = a.container_id JOIN site s ON s.id = c.site_id
     WHERE ${IN_SCOPE} ORDER BY a.node_id, a.from_ms, a.id`,
    { account: accountId },
  );

const depots = (sql: Sql): Depot[] => sql.all<Depot>('SELECT id, name, latitude, longitude FROM depot ORDER BY id');

const trucks = (sql: Sql): Truck[] =>
  sql.all<Truck>('SELECT id, name, tank_litres AS "tankLitres", depot_id AS "depotId" FROM truck ORDER BY id');
