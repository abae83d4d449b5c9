/** Identifiers are plain strings that match {@link ID_PATTERN}; the name of a field says what it identifies. */
export type AccountId = string;
export type SiteId = string;
export type ContainerId = string;
export type NodeId = string;
export type GatewayId = string;
export type PersonId = string;

export const ID_PATTERN = /^[A-Za-z0-9._-]{1,64}$/;

/** An instant as UTC epoch milliseconds. */
export type EpochMs = number;

/** A site-local calendar day, `YYYY-MM-DD`. */
export type LocalDay = string;
