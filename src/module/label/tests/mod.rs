mod damaged;
mod examples;
mod found;
mod properties;
mod tables;
