use sqlx::postgres::PgQueryResult;

/// What can go wrong between a typed value and its row.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no such row in this gym, or the update touched none.
    #[error("not found")]
    NotFound,
    /// A constraint of the schema refused the change. Its name tells which field was wrong.
    #[error("refused by the constraint {name}")]
    Constraint {
        /// The constraint's name in the schema, for example `athletes_handle_once`.
        name: String,
    },
    /// What is stored cannot be true.
    #[error("{table} {key}: {what}")]
    Corrupt {
        /// The table.
        table: &'static str,
        /// The row's key.
        key: String,
        /// What is wrong with it.
        what: String,
    },
    /// The database failed.
    #[error("the database failed")]
    Db(#[source] sqlx::Error),
}

impl StoreError {
    /// A row whose content no type of ours can hold.
    pub fn corrupt(table: &'static str, key: impl ToString, what: impl ToString) -> Self {
        Self::Corrupt {
            table,
            key: key.to_string(),
            what: what.to_string(),
        }
    }

    /// Whether this is the refusal of that constraint.
    #[must_use]
    pub fn is_constraint(&self, constraint: &str) -> bool {
        matches!(self, Self::Constraint { name } if name == constraint)
    }
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::RowNotFound => Self::NotFound,
            sqlx::Error::Database(refusal) => match refusal.constraint() {
                Some(name) => Self::Constraint {
                    name: name.to_owned(),
                },
                None => Self::Db(error),
            },
            _ => Self::Db(error),
        }
    }
}

/// An update or a delete that must have found its row.
///
/// # Errors
/// [`StoreError::NotFound`] if no row was touched.
pub fn touched(result: &PgQueryResult) -> Result<(), StoreError> {
    if result.rows_affected() == 0 {
        Err(StoreError::NotFound)
    } else {
        Ok(())
    }
}
