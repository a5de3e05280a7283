//! What the library answers, held against published documents and common practice.

mod published;
