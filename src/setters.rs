//! Setters of what callers write: each sets one field and hands the value on.

/// Writes setters: `some` for a field that may be absent (`None` clears it), `value` for one that has a default, `each` for a list or set that grows, `any_of` for a set that may be absent.
macro_rules! setters {
    () => {};
    (some $name:ident($field:ident: $type:ty); $($rest:tt)*) => {
        #[doc = concat!("Sets [`", stringify!($field), "`](Self#structfield.", stringify!($field), "); `None` clears it.")]
        #[must_use]
        pub fn $name(mut self, $name: impl Into<Option<$type>>) -> Self {
            self.$field = $name.into();
            self
        }
        setters! { $($rest)* }
    };
    (value $name:ident($field:ident: $type:ty); $($rest:tt)*) => {
        #[doc = concat!("Sets [`", stringify!($field), "`](Self#structfield.", stringify!($field), ").")]
        #[must_use]
        pub fn $name(mut self, $name: $type) -> Self {
            self.$field = $name;
            self
        }
        setters! { $($rest)* }
    };
    (each $name:ident($field:ident: $type:ty); $($rest:tt)*) => {
        #[doc = concat!("Adds to [`", stringify!($field), "`](Self#structfield.", stringify!($field), ").")]
        #[must_use]
        pub fn $name(mut self, $name: impl IntoIterator<Item = $type>) -> Self {
            self.$field.extend($name);
            self
        }
        setters! { $($rest)* }
    };
    (any_of $name:ident($field:ident: $type:ty); $($rest:tt)*) => {
        #[doc = concat!("Sets [`", stringify!($field), "`](Self#structfield.", stringify!($field), ") to just these; none, `[]` or `None`, clears it.")]
        #[must_use]
        pub fn $name(mut self, $name: impl IntoIterator<Item = $type>) -> Self {
            let mut these = $name.into_iter().peekable();
            self.$field = these.peek().is_some().then(|| these.collect());
            self
        }
        setters! { $($rest)* }
    };
}
