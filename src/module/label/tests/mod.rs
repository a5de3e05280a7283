mod damaged;
mod examples;
mod properties;
mod tables;
