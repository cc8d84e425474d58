//! The one place where YAML is read, behind guards: size, nesting, aliases, duplicate keys, byte order
//! mark; and a reader over the parsed tree that gathers faults with their places.
